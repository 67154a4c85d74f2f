"""Duplicate keys: every one is found, wherever it hides, and nothing else is taken for one."""

import json
from datetime import datetime
from typing import Annotated, Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Meta

from service.contract.bodies import reader_of
from service.contract.duplicates import refuse_duplicates
from service.contract.examples import examples_folder
from service.contract.members import member_counter
from service.contract.problems import ProblemError
from service.contract.readings import SightlineReading
from service.contract.solution import SolutionRequest

SAMPLE = (examples_folder() / "solution-request.json").read_bytes()


def pointers(body: bytes) -> list[str]:
    """Where duplicate keys are said to be."""
    try:
        reader_of(SolutionRequest).read(body)
    except ProblemError as problem:
        kind, found = problem.kind.slug, [error.pointer for error in problem.errors]
    else:
        return []
    assert kind == "duplicate-key"
    return found


REPEATED = {
    "at the root": (b'{"length_unit": "in",', b'{"length_unit": "mm", "length_unit": "in",', ""),
    "with the same value": (
        b'{"length_unit": "in",',
        b'{"length_unit":"in","length_unit":"in",',
        "",
    ),
    "in a reading": (b'"left": "3 5/16"', b'"left": "1", "left": "3 5/16"', "/readings/0"),
    "of a tag": (
        b'{"kind": "sightline"',
        b'{"kind": "sightline", "kind": "sightline"',
        "/readings/0",
    ),
    "spelled with an escape": (
        b'"left": "3 5/16"',
        b'"l\\u0065ft":"1","left":"3 5/16"',
        "/readings/0",
    ),
    "hidden behind an escaped colon": (
        b'"target_set": "truck-published"',
        b'"target_set": "a\\u003ab", "target_set": "a"',
        "",
    ),
    "hidden behind a default sent twice": (
        b'{"length_unit": "in",',
        b'{"text": true, "text": true, "length_unit": "in",',
        "",
    ),
    "of null": (b'"axle": 2,', b'"axle": 2, "reference": null, "reference": null,', "/readings/0"),
}


@pytest.mark.parametrize("name", REPEATED)
def test_a_key_that_stands_twice_is_refused(name: str) -> None:
    old, new, where = REPEATED[name]
    assert old in SAMPLE
    found = pointers(SAMPLE.replace(old, new, 1))
    assert len(found) == 1
    assert found[0].startswith(f"#{where}/")


INNOCENT = {
    "as it is": (b"", b""),
    "a colon in a text": (b"truck-published", b"a:b"),
    "an escaped colon in a text": (b"truck-published", b"a\\u003ab"),
    "a capital escape": (b"truck-published", b"a\\u003Ab"),
    "defaults sent": (
        b'{"length_unit"',
        b'{"text": true, "fraction": 32, "targets": null, "length_unit"',
    ),
    "an empty list sent": (b'{"length_unit"', b'{"instruments": [], "length_unit"'),
}


@pytest.mark.parametrize("name", INNOCENT)
def test_a_body_without_duplicates_passes(name: str) -> None:
    old, new = INNOCENT[name]
    assert pointers(SAMPLE.replace(old, new, 1)) == []


def test_all_duplicates_are_named_in_the_order_of_the_body() -> None:
    body = SAMPLE.replace(b'"left": "3 5/16"', b'"left": "1", "left": "3 5/16"', 1)
    body = body.replace(b'"axle": 3,', b'"axle": 3, "axle": 3,')
    assert pointers(body) == ["#/readings/0/left", "#/readings/1/axle", "#/readings/3/axle"]


def test_duplicates_are_found_in_a_body_that_breaks_the_contract_too() -> None:
    assert pointers(b'{"x": {"a": 1, "a": 2}}') == ["#/x/a"]


texts = st.text(st.sampled_from('ab:"\\{},éu003a '), max_size=4)
values = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | texts,
    lambda inner: st.lists(inner, max_size=3) | st.lists(st.tuples(texts, inner), max_size=4),
    max_leaves=12,
)


def written(value: Any, escape: bool) -> str:
    """JSON of a value whose objects are lists of pairs, so that a key may come twice."""
    if isinstance(value, list) and value and isinstance(value[0], tuple):
        members = (f"{text(key, escape)}: {written(child, escape)}" for key, child in value)
        return "{" + ", ".join(members) + "}"
    if isinstance(value, list):
        return "[" + ",".join(written(child, escape) for child in value) + "]"
    return text(value, escape) if isinstance(value, str) else json.dumps(value)


def text(value: str, escape: bool) -> str:
    plain = json.dumps(value, ensure_ascii=False)
    return plain.replace(":", "\\u003a") if escape else plain


def has_duplicates(body: str) -> bool:
    """The reference: Python's own json, which hands over every member it reads."""
    found = False

    def look(pairs: list[tuple[str, Any]]) -> None:
        nonlocal found
        found = found or len({key for key, _ in pairs}) < len(pairs)

    json.loads(body, object_pairs_hook=look)
    return found


@settings(max_examples=500, deadline=None)
@given(values, st.booleans())
def test_the_check_agrees_with_pythons_own_json_on_any_value(value: Any, escape: bool) -> None:
    body = written(value, escape)
    try:
        refuse_duplicates(body.encode())
        refused = False
    except ProblemError:
        refused = True
    assert refused == has_duplicates(body)


optional_members = st.lists(
    st.sampled_from(
        [
            ("axle", 2), ("left", "a:b"), ("right", "1"), ("reference", None), ("reference", 1),
            ("uncertainty", None), ("uncertainty", ":"), ("instrument", "x"),
        ]
    ),
    max_size=6,
)  # fmt: skip


@settings(max_examples=500, deadline=None)
@given(st.lists(optional_members, min_size=1, max_size=3))
def test_the_check_agrees_with_pythons_own_json_on_typed_bodies(readings: Any) -> None:
    """Required members first, so that the body decodes; then any optional ones, any often."""
    start = [("kind", "sightline"), ("axle", 1), ("left", "1"), ("right", "2")]
    spelled = ",".join(written([*start, *reading], False) for reading in readings)
    vehicle = '{"unit": "truck", "axles": [{"number": 1, "role": "steer", "distance": "0"}]}'
    body = f'{{"length_unit": "in", "vehicle": {vehicle}, "readings": [{spelled}]}}'
    msgspec.json.decode(body, type=SolutionRequest)
    assert bool(pointers(body.encode())) == has_duplicates(body)


def test_the_count_of_members_is_exact_for_a_body_without_defaults() -> None:
    counter = member_counter(SolutionRequest)
    assert counter is not None
    request = msgspec.json.decode(SAMPLE, type=SolutionRequest)
    assert counter(request) == SAMPLE.count(b":")


def test_a_tag_that_may_be_left_out_is_not_counted() -> None:
    """A tagged struct outside a union decodes without its tag, and one member may hide there."""
    body = b'{"axle": 1, "left": "1", "right": "2", "right": "3"}'
    assert isinstance(msgspec.json.decode(body, type=SightlineReading), SightlineReading)
    with pytest.raises(ProblemError, match="duplicate-key"):
        reader_of(SightlineReading).read(body)


class Loose(msgspec.Struct):
    """A struct that takes anything."""

    anything: Any


class Row(msgspec.Struct, array_like=True):
    """A struct that is written as an array and so has no members."""

    a: int


class Table(msgspec.Struct):
    """Holds rows."""

    rows: list[Row]


class Mapped(msgspec.Struct):
    """Holds names that are not known beforehand."""

    by_name: dict[str, int]


@pytest.mark.parametrize("cls", [Loose, Table, Mapped])
def test_a_type_that_does_not_tell_its_members_is_not_counted(cls: Any) -> None:
    assert member_counter(cls) is None


class Moment(msgspec.Struct, forbid_unknown_fields=True):
    """A moment, which is written with or without a colon in its offset."""

    at: Annotated[datetime, Meta(tz=True)]
    note: str = ""


@pytest.mark.parametrize("offset", ["Z", "+00:00", "+02:30"])
def test_colons_of_a_moment_hide_nothing(offset: str) -> None:
    moment = f'"at": "2025-03-01T14:30:00{offset}"'
    reader_of(Moment).read(f"{{{moment}}}".encode())
    with pytest.raises(ProblemError, match="duplicate-key"):
        reader_of(Moment).read(f'{{{moment}, "note": "", "note": ""}}'.encode())
