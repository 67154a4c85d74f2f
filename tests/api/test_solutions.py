"""`POST /v1/solutions`: the main job through the door, and every bad input its own answer."""

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from asking import Answer, ask

from service.app import create_app

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
SAMPLE: dict[str, Any] = json.loads((EXAMPLES / "solution-request.json").read_text("utf-8"))
APP = create_app()

Change = Callable[[dict[str, Any]], Any]


def solve(request: Any) -> Answer:
    """Send a request body, an object or text that is meant to be wrong."""
    body = request if isinstance(request, bytes) else json.dumps(request).encode()
    return ask(APP, "POST", "/v1/solutions", body)


def changed(change: Change) -> dict[str, Any]:
    """The sample request after a change."""
    request = copy.deepcopy(SAMPLE)
    change(request)
    return request


@pytest.mark.parametrize("name", ["", ".tandem-out-of-line"])
def test_each_example_is_answered_as_its_stored_answer_says(name: str) -> None:
    request = json.loads((EXAMPLES / f"solution-request{name}.json").read_text("utf-8"))
    stored = json.loads((EXAMPLES / f"solution{name}.json").read_text("utf-8"))
    assert _rounded(solve(request).json) == _rounded(stored)


def _rounded(node: Any) -> Any:
    """Numbers to 9 digits: the last bits differ between mathematical libraries."""
    if isinstance(node, dict):
        return {key: _rounded(value) for key, value in node.items()}
    if isinstance(node, list):
        return [_rounded(value) for value in node]
    return float(f"{node:.9g}") if isinstance(node, float) else node


def test_an_axle_off_centre_is_not_taken_for_one_that_aims_wrong() -> None:
    # Axle 2 reads 1/4 in more on the right of the scale and sits 1/8 in right: it aims straight.
    axle = solve(SAMPLE).json["axles"][1]
    assert axle["offset"]["value"] == pytest.approx(0.125, abs=1e-9)
    assert axle["thrust"]["value"] == pytest.approx(0.0, abs=1e-9)


def test_what_no_reading_reaches_is_null() -> None:
    steer = solve(SAMPLE).json["axles"][0]
    assert steer["offset"] is None
    assert steer["camber_left"] is None
    assert steer["toe"] is not None


def test_an_assumed_centre_is_named_and_widens_the_thrust() -> None:
    narrow = changed(
        lambda r: r["readings"].append(
            {"kind": "frame_gap", "axle": 1, "left": "20", "right": "20"}
        )
    )
    assumed, taped = solve(SAMPLE).json, solve(narrow).json
    assert [a["id"] for a in assumed["assumptions"]] == ["centred-1"]
    assert taped["assumptions"] == []
    thrusts = [answer["axles"][1]["thrust"] for answer in (assumed, taped)]
    assert thrusts[0]["uncertainty"] > 2 * thrusts[1]["uncertainty"]
    assert [t["basis"] for t in thrusts] == ["partly_assumed", "measured"]


def test_texts_can_be_left_out() -> None:
    answer = solve({**SAMPLE, "text": False}).json
    assert answer["axles"][1]["offset"]["text"] == ""
    assert {finding["text"] for finding in answer["findings"]} == {""}


def _set(*path: Any, to: Any) -> Change:
    def change(request: dict[str, Any]) -> None:
        node: Any = request
        for step in path[:-1]:
            node = node[step]
        node[path[-1]] = to

    return change


def _drop(*path: Any) -> Change:
    def change(request: dict[str, Any]) -> None:
        node: Any = request
        for step in path[:-1]:
            node = node[step]
        del node[path[-1]]

    return change


def _crossed(request: dict[str, Any]) -> None:
    del request["target_set"]
    row = {"quantity": "toe", "unit": "deg", "nominal": "0.1", "lower": "0.2", "upper": "0"}
    request["targets"] = {"rows": [row]}


REAR = "#/vehicle/axles/2"
BAD = [
    ("unknown-reading-kind", "#/readings/0/kind", _set("readings", 0, "kind", to="hologram")),
    ("axle-not-found", "#/readings/2/axle", _set("readings", 2, "axle", to=7)),
    ("incomplete-pair", "#/readings/0/right", _drop("readings", 0, "right")),
    ("negative-tape-reading", "#/readings/2/left", _set("readings", 2, "left", to="-30 1/8")),
    ("axles-out-of-order", f"{REAR}/distance", _set("vehicle", "axles", 2, "distance", to="100")),
    ("axles-in-one-place", f"{REAR}/distance", _set("vehicle", "axles", 2, "distance", to="187.5")),
    ("axles-in-one-place", f"{REAR}/number", _set("vehicle", "axles", 2, "number", to=2)),
    ("unreadable-text", "#/readings/0/left", _set("readings", 0, "left", to="3 5/16 furlongs")),
    ("unreadable-text", "#/readings/0/left", _set("readings", 0, "left", to="3,3")),
    ("unknown-field", "#/readings/0/colour", _set("readings", 0, "colour", to="red")),
    ("target-limits-crossed", "#/targets/rows/0/lower", _crossed),
    ("unknown-target-set", "#/target_set", _set("target_set", to="nobody-knows")),
    ("reading-impossible", "#/readings/5/right", _set("readings", 5, "right", to="99")),
    ("contract-broken", "#/readings/0/axle", _set("readings", 0, "axle", to="2")),
]  # fmt: skip


@pytest.mark.parametrize(("slug", "pointer", "change"), BAD)
def test_a_bad_request_is_told_what_is_wrong_and_where(
    slug: str, pointer: str, change: Change
) -> None:
    answer = solve(changed(change))
    assert answer.status == 422
    assert answer.slug == slug
    assert pointer in answer.pointers
    assert all(error["detail"] and error["hint"] for error in answer.json["errors"])


def test_a_length_toe_needs_a_baseline_or_a_tyre_diameter() -> None:
    def without(request: dict[str, Any]) -> None:
        del request["readings"][4]["baseline"]
        del request["vehicle"]["axles"][0]["tyre_diameter"]

    answer = solve(changed(without))
    assert answer.slug == "baseline-missing"
    assert answer.pointers == ["#/readings/4/baseline"]
    assert solve(changed(_drop("readings", 4, "baseline"))).status == 200


def test_every_fault_of_a_request_is_named_at_once() -> None:
    def spoil(request: dict[str, Any]) -> None:
        request["readings"][0]["left"] = "a bit"
        request["readings"][1]["axle"] = 9
        request["readings"][2]["right"] = "-3"
        request["target_set"] = "nobody-knows"

    assert set(solve(changed(spoil)).pointers) == {
        "#/readings/0/left",
        "#/readings/1/axle",
        "#/readings/2/right",
        "#/target_set",
    }


def test_more_than_two_hundred_readings_are_too_many() -> None:
    many = changed(lambda r: r.update(readings=r["readings"][:1] * 201))
    assert solve(many).slug == "too-many-readings"
    assert solve(changed(lambda r: r.update(readings=r["readings"][:1] * 200))).status == 200


TEXT = json.dumps(SAMPLE).encode()
UNPARSED = [
    *(
        ("non-finite-number", TEXT.replace(b'"axle": 2', b'"axle": ' + number, 1))
        for number in (b"NaN", b"Infinity", b"1e999")
    ),
    ("duplicate-key", TEXT.replace(b"{", b'{"length_unit": "mm", ', 1)),
    ("nested-too-deeply", b"[" * 2000 + b"]" * 2000),
    ("malformed-json", b'{"length_unit": "in",}'),
]


@pytest.mark.parametrize(("slug", "body"), UNPARSED)
def test_a_body_that_cannot_be_parsed_says_why(slug: str, body: bytes) -> None:
    answer = solve(body)
    assert answer.status == 400
    assert answer.slug == slug


@pytest.mark.parametrize("headers", [(), ((b"content-type", b"text/plain"),)])
def test_a_body_must_be_declared_as_json(headers: tuple[tuple[bytes, bytes], ...]) -> None:
    answer = ask(APP, "POST", "/v1/solutions", json.dumps(SAMPLE).encode(), headers)
    assert (answer.status, answer.slug) == (415, "unsupported-media-type")


def test_a_body_over_the_limit_is_refused() -> None:
    answer = solve(json.dumps(SAMPLE).encode() + b" " * 300_000)
    assert (answer.status, answer.slug) == (413, "body-too-large")


def test_an_implausible_thrust_is_solved_and_named() -> None:
    odd = solve(changed(_set("readings", 0, "right", to="30")))
    assert odd.status == 200
    assert {"implausible-thrust"} <= {caution["code"] for caution in odd.json["cautions"]}


def test_an_implausible_offset_is_solved_and_named() -> None:
    odd = solve(changed(_set("readings", 2, "right", to="40")))
    assert odd.status == 200
    assert {"implausible-offset"} <= {caution["code"] for caution in odd.json["cautions"]}


def test_a_denied_condition_is_called_in_doubt_and_inspected_first() -> None:
    answer = solve(changed(_set("conditions", "rolled_straight", to=False))).json
    assert answer["plan"][0]["action"] == "inspect"
    assert "condition-denied-rolled-straight" in {c["code"] for c in answer["cautions"]}


def test_every_solution_says_how_to_work_safely() -> None:
    texts = " ".join(caution["text"] for caution in solve(SAMPLE).json["cautions"])
    for word in ("Chock", "stands", "torque", "measure again", "road-test", "makers' data"):
        assert word in texts


def test_readings_in_millimetres_give_the_same_angles() -> None:
    def metric(request: dict[str, Any]) -> None:
        request["length_unit"] = "mm"
        for part in (*request["vehicle"]["axles"], *request["readings"]):
            for name, value in part.items():
                if isinstance(value, str) and name not in ("kind", "role"):
                    part[name] = f"{value} in"

    inches, millimetres = solve(SAMPLE).json, solve(changed(metric)).json
    for one, other in zip(inches["axles"], millimetres["axles"], strict=True):
        for name in ("thrust", "toe", "skew"):
            if one[name] is not None:
                assert other[name]["value"] == pytest.approx(one[name]["value"], abs=1e-12)
        if one["offset"] is not None:
            assert other["offset"]["value"] == pytest.approx(25.4 * one["offset"]["value"])
