"""Plans through the door: whoever brings the scales to a plan's marks has nothing left to do.

The vehicle is the documented tandem out of line, which is invented.
"""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from asking import ask

from service.app import create_app

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
TANDEM: dict[str, Any] = json.loads(
    (EXAMPLES / "solution-request.tandem-out-of-line.json").read_text("utf-8")
)
APP = create_app()

ONE_END = {"kind": "longitudinal", "ends": "left_end", "spread": "41", "increment": "1/16"}
SHIMS = {"kind": "lateral", "increment": "1/16"}
ROD = {"kind": "tie_rod", "thread_pitch": "1/18", "arm_length": "7 1/2", "increment": "1/8"}


def solve(request: dict[str, Any]) -> dict[str, Any]:
    answer = ask(APP, "POST", "/v1/solutions", json.dumps(request).encode())
    assert answer.status == 200, answer.body
    return dict(answer.json)


def tandem(**change: Any) -> dict[str, Any]:
    """The documented tandem with other members at the top."""
    return copy.deepcopy(TANDEM) | change


def off_centre(request: dict[str, Any]) -> dict[str, Any]:
    """Axle 3 further left by 3/8 in, as every one of its readings then shows."""
    for reading in request["readings"]:
        if reading["axle"] == 3 and reading["kind"] == "frame_gap":
            reading |= {"left": "30 11/16", "right": "29 11/16"}
        if reading["axle"] == 3 and reading["kind"] == "sightline":
            reading |= {"left": "2 15/16", "right": "4 5/16"}
    return request


def moved_by(request: dict[str, Any], *adjusters: dict[str, Any], axle: int) -> dict[str, Any]:
    request["vehicle"]["axles"][axle - 1]["adjusters"] = list(adjusters)
    return request


def brought_to_the_marks(request: dict[str, Any], plan: list[dict[str, Any]]) -> dict[str, Any]:
    """The request as it is read when every step was done until the scales show their texts."""
    after = copy.deepcopy(request)
    for step in plan:
        for expected in step["expect"]:
            reading = after["readings"][int(expected["pointer"].rpartition("/")[2])]
            assert reading["kind"] == expected["kind"]
            for mark in expected["marks"]:
                assert mark["name"] in reading
                reading[mark["name"]] = mark["text"].replace("°", "")
    return after


REQUESTS = {
    "as documented": tandem(),
    "off centre too": off_centre(tandem()),
    "to nominal": off_centre(tandem(plan_to="nominal")),
    "in steps": moved_by(moved_by(off_centre(tandem()), SHIMS, ONE_END, axle=3), ROD, axle=1),
    "common practice": off_centre(tandem(target_set="common-practice")),
    "in sixteenths": off_centre(tandem(fraction=16)),
}


@pytest.mark.parametrize("name", REQUESTS)
def test_whoever_brings_the_scales_to_the_marks_has_nothing_left_to_do(name: str) -> None:
    request = REQUESTS[name]
    first = solve(request)
    actions = [step["action"] for step in first["plan"]]
    assert {"aim", "set_toe"} <= set(actions)
    assert ("centre" in actions) == (name != "as documented")
    assert all(step["expect"] for step in moves(first))
    again = solve(brought_to_the_marks(request, first["plan"]))
    wrong = {f["id"] for f in first["findings"] if f["verdict"] == "nonconforming"}
    assert {f["verdict"] for f in again["findings"] if f["id"] in wrong} == {"conforming"}
    assert (moves(again), again["prediction"], again["remaining"]) == ([], None, [])
    assert again["suspects"] == []


def moves(answer: dict[str, Any]) -> list[dict[str, Any]]:
    return [step for step in answer["plan"] if step["amount"] is not None]


def test_the_rear_drive_axle_alone_is_aimed() -> None:
    """Axle 2 aims straight and conforms; axle 3 aims 0.3 degrees right, and scrub is with it."""
    answer = solve(tandem())
    aim, toe = answer["plan"]
    assert (aim["step"], aim["action"], aim["axle"]) == (1, "aim", 3)
    assert (aim["side"], aim["ends"], aim["direction"]) == ("right", "both_ends", "forward")
    assert set(aim["because"]) == {"thrust-3", "scrub-2-3"}
    assert "at the axle ends, 71 1/2 in apart" in aim["text"]
    (expected,) = aim["expect"]
    assert (expected["pointer"], expected["axle"]) == ("#/readings/1", 3)
    assert [mark["name"] for mark in expected["marks"]] == ["left", "right"]
    # What the right side of the scale loses the left one gains, as the line turns.
    read = {"left": 2 + 9 / 16, "right": 4 + 11 / 16}
    left, right = (mark["value"] - read[mark["name"]] for mark in expected["marks"])
    assert left == pytest.approx(-right, abs=0.01)
    assert left > 0.5
    assert (toe["action"], toe["axle"], toe["direction"]) == ("set_toe", 1, "out")
    assert toe["because"] == ["toe-1"]


@pytest.mark.parametrize(
    ("adjusters", "spans", "measured_at", "spread"),
    [
        ([], False, "axle_ends", 71.5),
        ([], True, "tape", 70.0),
        ([ONE_END], True, "adjusters", 41.0),
    ],
)
def test_a_turn_says_between_which_points_it_is_measured(
    adjusters: list[dict[str, Any]], spans: bool, measured_at: str, spread: float
) -> None:
    request = tandem()
    if adjusters:
        moved_by(request, *adjusters, axle=3)
    if spans:
        # As an axle reads that aims 0.28 degrees further right than the one ahead of it.
        span = {"kind": "axle_span", "front_axle": 2, "rear_axle": 3, "spread": "70"}
        request["readings"].append(span | {"left": "52 3/32", "right": "52 7/16"})
    (aim,) = (step for step in solve(request)["plan"] if step["action"] == "aim")
    assert aim["measured_at"] == measured_at
    assert (aim["spread"]["value"], aim["spread"]["unit"]) == (pytest.approx(spread), "in")
    assert f", {aim['spread']['text']} apart" in aim["text"]


def test_an_amount_says_how_far_it_may_be_off() -> None:
    """At either end of the amount's band the scale is at an end of its own."""
    aim, toe = solve(tandem())["plan"]
    amount, marks = aim["amount"], aim["expect"][0]["marks"]
    assert amount["lower"] <= amount["value"] < amount["upper"]
    # The line turns by as much as the axle: over 71 1/2 in and, to the scale, 227 1/4 in.
    reach = (amount["upper"] - amount["lower"]) * 2 / 71.5 * 227.25
    assert marks[0]["upper"] - marks[0]["lower"] == pytest.approx(reach, rel=1e-3)
    assert toe["amount"]["lower"] <= toe["amount"]["value"] < toe["amount"]["upper"]
    assert (toe["measured_at"], toe["spread"]) == (None, None)


def test_the_prediction_is_what_the_plan_leads_to() -> None:
    answer = solve(tandem())
    verdicts = {f["id"]: f["verdict"] for f in answer["prediction"]["findings"]}
    assert set(verdicts) == {finding["id"] for finding in answer["findings"]}
    assert set(verdicts.values()) == {"conforming"}
    before, after = (part["axles"][2]["thrust"]["value"] for part in (answer, answer["prediction"]))
    aim = answer["plan"][0]
    # Both ends of a beam 71 1/2 in long, each by the amount.
    assert before - after == pytest.approx(2 * aim["amount"]["value"] / 71.5 * 57.29578, abs=1e-5)


def test_a_denied_condition_comes_first_and_a_reading_that_decides_next() -> None:
    request = tandem(conditions={"rolled_straight": True, "ride_height_set": False})
    request["readings"] = [r for r in request["readings"] if r["kind"] != "frame_gap"]
    plan = solve(request)["plan"]
    assert [step["action"] for step in plan][:2] == ["inspect", "read"]
    assert "ride height" in plan[0]["text"]
    assert plan[1]["reading"] is not None
    assert plan[1]["because"]


def test_without_a_plan_nothing_of_it_is_answered() -> None:
    answer = solve(tandem(plan=False))
    assert (answer["plan"], answer["prediction"], answer["remaining"]) == ([], None, [])
    assert {finding["verdict"] for finding in answer["findings"]} > {"nonconforming"}
