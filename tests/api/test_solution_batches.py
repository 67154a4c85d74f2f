"""`POST /v1/solutions/batch`: many vehicles in one body, each answered for itself."""

import copy
import json
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from api.batching import APP, EXAMPLES, LINES, PATH, SAMPLE, TANDEM, batch, slug, solve, stream
from asking import JSON_HEADERS, ask
from simulator import fleet, noisy, request, seeded, stated

from service.contract import batch_reader


def check_alike(one: Any, other: Any, path: str = "") -> None:
    """The same answer, its numbers to 1e-12."""
    if isinstance(one, dict):
        assert one.keys() == other.keys(), path
        for name, value in one.items():
            check_alike(value, other[name], f"{path}/{name}")
    elif isinstance(one, list):
        assert len(one) == len(other), path
        for place, (left, right) in enumerate(zip(one, other, strict=True)):
            check_alike(left, right, f"{path}/{place}")
    elif isinstance(one, float):
        assert other == pytest.approx(one, rel=1e-12, abs=1.1e-12), path
    else:
        assert one == other, path


def simulated(designs: int, each: int) -> Iterator[dict[str, Any]]:
    """Noisy vehicles of many patterns, `each` of one."""
    dice = seeded(301)
    for number, case in enumerate(fleet(seeded(300), designs=designs, each=each)):
        readings = [noisy(stated(reading), dice) for reading in case.readings]
        yield request(case.vehicle, readings, ("mm", "in", "cm")[number % 3])


def test_vehicles_of_many_patterns_get_the_answers_that_each_gets_by_itself() -> None:
    items = [*simulated(designs=12, each=20), *[SAMPLE] * 20, *[TANDEM] * 20]
    seeded(302).shuffle(items)
    answer = batch(items)
    assert answer.status == 200
    found = answer.json["items"]
    assert [item["index"] for item in found] == list(range(len(items)))
    for item, sent in zip(found, items, strict=True):
        assert slug(item) is None
        check_alike(solve(json.dumps(sent).encode()).json, item["solution"])


def test_the_example_is_answered_as_its_stored_answer_says() -> None:
    sent = (EXAMPLES / "solution-batch-request.json").read_bytes()
    stored = json.loads((EXAMPLES / "solution-batch.json").read_text("utf-8"))
    found = ask(APP, "POST", PATH, sent).json
    for item in (*found["items"], *stored["items"]):
        if item["problem"]:
            item["problem"]["instance"] = ""
    check_alike(stored, found)


def test_five_thousand_vehicles_are_solved_in_one_body() -> None:
    item = json.dumps({**SAMPLE, "plan": False, "text": False, "running": False}).encode()
    answer = ask(APP, "POST", PATH, b'{"items":[' + b",".join([item] * 5000) + b"]}")
    assert answer.status == 200
    found = msgspec.json.decode(answer.body)["items"]
    assert [item["index"] for item in found] == list(range(5000))
    assert all(item["problem"] is None for item in found)


@pytest.mark.parametrize("headers", [JSON_HEADERS, LINES])
def test_five_thousand_and_one_vehicles_are_refused(headers: Any) -> None:
    body = b'{"items":[' + b",".join([b"{}"] * 5001) + b"]}"
    if headers is LINES:
        body, headers = b"{}\n" * 5001, (*LINES, (b"accept", b"application/json"))
    answer = ask(APP, "POST", PATH, body, headers)
    assert answer.status == 422
    assert answer.slug == "too-many-vehicles"


def test_a_stream_answers_as_many_as_it_may_and_ends_with_the_refusal_of_the_next(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(batch_reader, "MOST_VEHICLES", 150)
    found = stream(b"17\n" * 152)
    assert [item["index"] for item in found] == list(range(151))
    assert {slug(item) for item in found[:150]} == {"contract-broken"}
    assert slug(found[150]) == "too-many-vehicles"


def test_a_vehicle_with_a_letter_that_is_no_text_spoils_no_other() -> None:
    body = b'{"items": [%s, {"length_unit": "\xff"}]}' % json.dumps(SAMPLE).encode()
    found = ask(APP, "POST", PATH, body).json["items"]
    assert [slug(item) for item in found] == [None, "malformed-json"]


def spoilt() -> dict[str, Any]:
    """Requests with something wrong, by the kind of problem that each gets."""
    unread, lone = copy.deepcopy(SAMPLE), copy.deepcopy(SAMPLE)
    unread["readings"][0]["left"] = "three"
    del lone["readings"][1]["right"]
    impossible = copy.deepcopy(SAMPLE)
    impossible["readings"][0]["axle"] = 9
    return {
        "unreadable-text": unread,
        "incomplete-pair": lone,
        "axle-not-found": impossible,
        "contract-broken": 17,
    }


def test_bad_vehicles_get_the_problem_they_get_by_themselves_and_spoil_no_other() -> None:
    bad = spoilt()
    items = [SAMPLE] * 15
    for place, sent in enumerate(bad.values()):
        items.insert(3 * place, sent)
    found = batch(items).json["items"]
    expected = solve(json.dumps(SAMPLE).encode()).json
    for place, item in enumerate(found):
        assert item["index"] == place
        if items[place] is SAMPLE:
            check_alike(expected, item["solution"])
        else:
            alone = solve(json.dumps(items[place]).encode()).json
            assert item["problem"] | {"instance": ""} == alone | {"instance": ""}
    assert [s for s in map(slug, found) if s] == list(bad)


def test_a_problem_in_a_batch_names_the_request_it_came_with() -> None:
    answer = batch([17])
    [item] = answer.json["items"]
    assert item["problem"]["instance"] == f"urn:uuid:{answer.headers['request-id']}"


def test_a_key_that_stands_twice_in_one_vehicle_is_that_vehicles_problem() -> None:
    good = json.dumps(SAMPLE).encode()
    twice = good.replace(b'"length_unit":', b'"length_unit": "mm", "length_unit":', 1)
    answer = ask(APP, "POST", PATH, b'{"items": [' + good + b"," + twice + b"]}")
    assert [slug(item) for item in answer.json["items"]] == [None, "duplicate-key"]


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b'{"items": []}', "contract-broken"),
        (b"{}", "contract-broken"),
        (b"[]", "contract-broken"),
        (b'{"items": {}}', "contract-broken"),
        (b'{"items": [{}], "more": 1}', "contract-broken"),
        (b'{"items": [{}], "items": [{}]}', "duplicate-key"),
        (b'{"items": [{}], "it\\u0065ms": [{}]}', "duplicate-key"),
        (b'{"items": [{"a": NaN}]}', "non-finite-number"),
        (b'{"items": [{}', "malformed-json"),
        (b'{"items": [{}]} and more', "malformed-json"),
        (b"", "malformed-json"),
    ],
)
def test_an_envelope_that_is_wrong_refuses_the_whole(body: bytes, kind: str) -> None:
    assert ask(APP, "POST", PATH, body).slug == kind


@pytest.mark.parametrize(
    ("envelope", "kind"),
    [
        (b'{"items": [%s], "more": 1}', "contract-broken"),
        (b'{"items": [%s], "items": [{}]}', "duplicate-key"),
        (b'{"items": [%s]', "malformed-json"),
        (b'{"items": [%s], "\xff": 1}', "malformed-json"),
        (b'{"items": [%s' + b"[" * 3000 + b"]" * 3000 + b"]}", "nested-too-deeply"),
    ],
)
def test_a_wrong_envelope_around_very_much_is_refused_at_a_glance(
    envelope: bytes, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch_reader, "reader_of", None)
    big = b"0," * batch_reader.SMALL + b"0"
    body = envelope.replace(b"%s", big + (b"," if b"[[" in envelope else b""))
    assert ask(APP, "POST", PATH, body).slug == kind
