"""What goes out: finite numbers only, ids that differ, media types that were asked for."""

import math
import os
from enum import Enum
from uuid import UUID

import msgspec
import pytest
from msgspec import field

from service.contract.base import OpenStruct
from service.contract.finite import NotFiniteError, require_finite
from service.contract.media import acceptable, chosen
from service.contract.replies import Reply, encoded
from service.contract.request_ids import RequestIds


class Colour(Enum):
    """Something that is no number."""

    INK = "ink"


class Leaf(OpenStruct):
    """Numbers at the end of a branch."""

    value: float
    maybe: float | None = None
    text: str = ""


class Branch(OpenStruct):
    """Everything that an answer may hold numbers in."""

    leaf: Leaf
    other: Leaf | None = None
    leaves: list[Leaf] = field(default_factory=list)
    numbers: list[float] = field(default_factory=list)
    rows: list[list[float]] = field(default_factory=list)
    mapped: dict[str, float] = field(default_factory=dict)
    either: float | list[float] = 0.0
    colour: Colour = Colour.INK
    child: "Branch | None" = None
    count: int = 0


def branch(**fields: object) -> Branch:
    return Branch(leaf=Leaf(value=1.0), **fields)  # type: ignore[arg-type]


BAD = [math.nan, math.inf, -math.inf]
PLACES = {
    "a field": lambda bad: Branch(leaf=Leaf(value=bad)),
    "an optional field": lambda bad: Branch(leaf=Leaf(value=1.0, maybe=bad)),
    "an optional struct": lambda bad: branch(other=Leaf(value=bad)),
    "the last struct of a list": lambda bad: branch(leaves=[Leaf(value=1.0), Leaf(value=bad)]),
    "a list": lambda bad: branch(numbers=[1.0, bad]),
    "a list of lists": lambda bad: branch(rows=[[1.0], [bad]]),
    "a mapping": lambda bad: branch(mapped={"a": bad}),
    "one of two types": lambda bad: branch(either=bad),
    "the other of two types": lambda bad: branch(either=[1.0, bad]),
    "a struct within its own kind": lambda bad: branch(child=branch(child=branch(numbers=[bad]))),
}


@pytest.mark.parametrize("bad", BAD)
@pytest.mark.parametrize("place", PLACES)
def test_a_number_that_is_not_finite_is_found_wherever_it_is(place: str, bad: float) -> None:
    with pytest.raises(NotFiniteError):
        require_finite(PLACES[place](bad))


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("good", [0.0, -0.0, 1e308, -1e308, 5e-324])
def test_a_finite_number_passes_wherever_it_is(place: str, good: float) -> None:
    require_finite(PLACES[place](good))


def test_finite_numbers_pass_even_where_their_sum_is_not() -> None:
    require_finite(branch(numbers=[1e308, 1e308]))
    require_finite(Branch(leaf=Leaf(value=-1e308, maybe=-1e308)))


@pytest.mark.parametrize("bad", BAD)
def test_a_number_that_is_not_finite_is_found_beside_a_sum_that_overflows(bad: float) -> None:
    with pytest.raises(NotFiniteError):
        require_finite(branch(numbers=[1e308, 1e308, bad]))


def test_infinities_that_cancel_are_found() -> None:
    with pytest.raises(NotFiniteError):
        require_finite(branch(numbers=[math.inf, -math.inf]))


def test_without_the_guard_nan_would_go_out_as_null() -> None:
    """The reason for the guard; msgspec 0.22 writes null for NaN and both infinities."""
    assert msgspec.json.encode([math.nan, math.inf]) == b"[null,null]"


def test_neither_a_reply_nor_the_encoder_lets_nan_out() -> None:
    bad = Leaf(value=math.nan)
    with pytest.raises(NotFiniteError):
        Reply(bad)
    with pytest.raises(NotFiniteError):
        encoded(bad)


def test_the_encoder_writes_the_struct() -> None:
    assert encoded(Leaf(value=0.125)) == b'{"value":0.125,"maybe":null,"text":""}'


def test_ids_of_one_source_and_of_two_never_meet() -> None:
    one, other = RequestIds(), RequestIds()
    ids = {source.id_of(None) for source in (one, other) for _ in range(10_000)}
    assert len(ids) == 20_000


def test_an_id_made_here_is_a_uuid_of_version_8() -> None:
    """RFC 9562 section 5.8."""
    made = UUID(RequestIds().id_of(None).decode())
    assert (made.version, made.variant) == (8, "specified in RFC 4122")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork on this system")
def test_ids_do_not_repeat_in_a_forked_process() -> None:
    ids = RequestIds()
    here, there = os.pipe()
    child = os.fork()
    if child == 0:
        os.write(there, ids.id_of(None))
        os._exit(0)
    os.waitpid(child, 0)
    assert os.read(here, 36)[:23] != ids.id_of(None)[:23]


JSON, SVG = "application/json", "image/svg+xml"

# RFC 9110 section 12.5.1: the most specific range decides; q=0 means "not acceptable".
CHOICES = [
    (b"", JSON),
    (b"*/*", JSON),
    (b"image/*", SVG),
    (b"image/svg+xml, application/json;q=0.5", SVG),
    (b"image/svg+xml;q=0.2, application/json;q=0.5", JSON),
    (b"image/*, image/svg+xml;q=0, */*;q=0.1", JSON),
    (b"*/*;q=0.5, application/json;q=0.1", SVG),
    (b"APPLICATION/JSON", JSON),
    (b"text/html", None),
    (b"application/json;q=0, image/*;q=0.0", None),
    (b"application/json;q=nonsense", None),
    (b",;,", JSON),
]


@pytest.mark.parametrize(("accept", "wanted"), CHOICES)
def test_the_media_type_is_the_one_that_is_liked_best(accept: bytes, wanted: str | None) -> None:
    assert chosen(accept, (JSON, SVG)) == wanted
    assert acceptable(accept, (JSON, SVG)) == (wanted is not None)
