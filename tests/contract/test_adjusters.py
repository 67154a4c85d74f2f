"""How a request describes adjusters: what is read of them, and every fault named by its pointer.

The vehicle is the documented tandem out of line, which is invented.
"""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from asking import Answer, ask

from service.app import create_app
from service.contract.schemas import component_schemas
from service.contract.vehicle import Adjuster

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
TANDEM: dict[str, Any] = json.loads(
    (EXAMPLES / "solution-request.tandem-out-of-line.json").read_text("utf-8")
)
APP = create_app()
TURNING = {"kind": "longitudinal", "ends": "left_end", "spread": "41"}
SCREW = TURNING | {"thread_pitch": "1/14"}
ROD = {"kind": "tie_rod", "thread_pitch": "1/18", "arm_length": "7 1/2"}


def solve(*adjusters: dict[str, Any], axle: int = 3) -> Answer:
    """The documented tandem with one axle's adjusters described."""
    request = copy.deepcopy(TANDEM)
    request["vehicle"]["axles"][axle - 1]["adjusters"] = list(adjusters)
    return ask(APP, "POST", "/v1/solutions", json.dumps(request).encode())


def step(action: str, *adjusters: dict[str, Any], axle: int = 3) -> dict[str, Any]:
    """The one step of an action in the plan."""
    answer = solve(*adjusters, axle=axle)
    assert answer.status == 200, answer.body
    (found,) = (step for step in answer.json["plan"] if step["action"] == action)
    return found


@pytest.mark.parametrize(
    ("adjuster", "field", "words"),
    [
        (TURNING | {"increment": "0"}, "increment", "“0”: negative or nothing"),
        (TURNING | {"increment": "-1/16"}, "increment", "negative or nothing"),
        (TURNING | {"travel": "-1/8 in"}, "travel", "negative or nothing"),
        (TURNING | {"increment": "1/4 turn"}, "increment", "only by the pitch of a thread"),
        (TURNING | {"travel": "3 turns"}, "travel", "only by the pitch of a thread"),
        (TURNING | {"spread": "0"}, "spread", "too short for an adjuster"),
        (SCREW | {"thread_pitch": "0.01 mm"}, "thread_pitch", "too short for an adjuster"),
        (ROD | {"arm_length": None}, "arm_length", "together"),
        (ROD | {"thread_pitch": None}, "thread_pitch", "together"),
        (ROD | {"arm_length": "0"}, "arm_length", "too short for an adjuster"),
        ({"kind": "tie_rod", "increment": "1/4"}, "increment", "mean nothing without"),
        ({"kind": "tie_rod", "travel": "2"}, "travel", "mean nothing without"),
        ({"kind": "wedge", "increment": "0"}, "increment", "negative or nothing"),
        ({"kind": "wedge", "travel": "-0.5"}, "travel", "negative or nothing"),
        ({"kind": "lateral", "increment": "0"}, "increment", "negative or nothing"),
    ],
)
def test_what_no_adjuster_can_be_is_refused_by_name(
    adjuster: dict[str, Any], field: str, words: str
) -> None:
    answer = solve({"kind": "lateral"}, adjuster)
    assert (answer.status, answer.slug) == (422, "adjuster-impossible")
    assert answer.pointers == [f"#/vehicle/axles/2/adjusters/1/{field}"]
    (error,) = answer.json["errors"]
    assert words in error["detail"]
    assert error["hint"]


@pytest.mark.parametrize("field", ["spread", "increment", "travel", "thread_pitch"])
def test_a_text_that_cannot_be_read_is_refused_by_name(field: str) -> None:
    answer = solve(SCREW | {field: "two fingers"})
    assert answer.status == 422
    assert answer.pointers == [f"#/vehicle/axles/2/adjusters/0/{field}"]


@pytest.mark.parametrize("text", ["1/4 in", "2 mm", "1/4 in turn", "turn", "a half turn"])
def test_turns_are_told_by_a_number_alone(text: str) -> None:
    answer = solve(ROD | {"travel": text})
    assert (answer.status, answer.slug) == (422, "unreadable-text")
    assert answer.pointers == ["#/vehicle/axles/2/adjusters/0/travel"]
    assert "not a number of turns" in answer.json["errors"][0]["detail"]


def test_all_faults_of_all_adjusters_are_named_at_once() -> None:
    answer = solve(TURNING | {"increment": "0", "travel": "x"}, {"kind": "wedge", "travel": "-1"})
    assert answer.pointers == [
        "#/vehicle/axles/2/adjusters/0/increment",
        "#/vehicle/axles/2/adjusters/0/travel",
        "#/vehicle/axles/2/adjusters/1/travel",
    ]


def test_a_kind_or_a_field_that_is_not_known_breaks_the_contract() -> None:
    assert solve({"kind": "magnet"}).pointers == ["#/vehicle/axles/2/adjusters/0/kind"]
    assert solve({"kind": "lateral", "colour": "red"}).status == 422
    assert solve(TURNING | {"ends": "front_end"}).status == 422


def test_more_adjusters_than_an_axle_has_are_refused() -> None:
    assert solve(*[TURNING] * 8).status == 200
    assert solve(*[TURNING] * 9).status == 422


def test_lengths_without_a_unit_are_in_the_unit_of_the_request() -> None:
    bare = step("aim", TURNING | {"increment": "1/16"})
    named = step("aim", TURNING | {"spread": "1041.4 mm", "increment": "1.5875 mm"})
    assert bare["amount"]["value"] == pytest.approx(named["amount"]["value"], abs=1e-9)
    assert (bare["amount"]["value"] * 16) % 1 == pytest.approx(0, abs=1e-9)


def test_a_threaded_adjuster_moves_in_parts_of_a_turn() -> None:
    """Both ends of the tube screw at once: a turn makes two pitches of 1/14 in."""
    found = step("aim", SCREW | {"increment": "1/4 turn", "travel": "6 turns"})
    assert found["turns"] * 4 == pytest.approx(round(found["turns"] * 4), abs=1e-9)
    assert found["turns"] >= 0.25
    assert found["amount"]["value"] == pytest.approx(found["turns"] * 2 / 14, abs=1e-9)
    assert "turns of its thread)" in found["text"] or "turn of its thread)" in found["text"]


def test_the_same_step_can_be_told_as_a_length() -> None:
    by_turn = step("aim", SCREW | {"increment": "1/4 turn"})
    by_length = step("aim", TURNING | {"increment": "1/28 in"})
    assert by_turn["amount"]["value"] == pytest.approx(by_length["amount"]["value"], abs=1e-9)
    assert by_length["turns"] is None


def test_one_thread_makes_half_as_much_of_a_turn_as_two() -> None:
    both, one = step("aim", SCREW), step("aim", SCREW | {"threads": "one_hand"})
    assert one["turns"] == pytest.approx(2 * both["turns"])
    assert one["amount"] == both["amount"]


def test_travel_in_turns_ends_a_move() -> None:
    answer = solve(SCREW | {"travel": "1/2 turn"}).json
    (found,) = (step for step in answer["plan"] if step["action"] == "aim" and step["axle"] == 3)
    assert found["turns"] == pytest.approx(0.5)
    assert answer["remaining"]


@pytest.mark.parametrize("text", ["1/8", "1/8 turn", "0.125 turns", "0.125"])
def test_turns_of_a_tie_rod_need_no_unit(text: str) -> None:
    found = step("set_toe", ROD | {"increment": text}, axle=1)
    assert found["turns"] * 8 == pytest.approx(round(found["turns"] * 8), abs=1e-9)


def test_a_tie_rod_without_thread_and_arm_is_set_by_the_toe_alone() -> None:
    found = step("set_toe", {"kind": "tie_rod"}, axle=1)
    assert found["turns"] is None
    assert "turn the tie rod" not in found["text"]


def test_an_axle_without_adjusters_is_not_moved() -> None:
    answer = solve().json
    assert all(step["axle"] != 3 for step in answer["plan"] if step["action"] == "centre")
    moved = {step["axle"] for step in answer["plan"] if step["action"] == "aim"}
    assert 3 not in moved
    assert "thrust-3" in {one["finding"] for one in answer["remaining"]}


def test_what_is_wrong_is_named_even_where_nothing_has_to_move() -> None:
    request = json.loads((EXAMPLES / "solution-request.json").read_text("utf-8"))
    request["vehicle"]["axles"][1]["adjusters"] = [{"kind": "lateral", "increment": "0"}]
    answer = ask(APP, "POST", "/v1/solutions", json.dumps(request).encode())
    assert answer.pointers == ["#/vehicle/axles/1/adjusters/0/increment"]


def test_the_schema_tells_which_adjusters_a_field_is_of_and_what_holds_without_it() -> None:
    told = {
        name: field["description"]
        for name, field in component_schemas([Adjuster])["Adjuster"]["properties"].items()
        if "description" in field
    }
    assert "half a degree of a `wedge`" in told["increment"]
    assert "`longitudinal`" in told["spread"]
    assert "`longitudinal`" in told["ends"]
    assert "`wedge`" in told["ends"]


def test_a_wedge_moves_in_half_degrees_and_on_the_side_that_its_ends_name() -> None:
    """What the schema says of `increment` and `ends`: the wedges were read 1.2 degrees apart."""
    request = copy.deepcopy(TANDEM) | {"target_set": "common-practice"}
    request["readings"].append(
        {
            "kind": "wedge",
            "axle": 1,
            "left": "1",
            "left_thick_end": "rear",
            "right": "2.2",
            "right_thick_end": "rear",
        }
    )
    told = []
    for ends in ("left_end", "right_end"):
        request["vehicle"]["axles"][0]["adjusters"] = [{"kind": "wedge", "ends": ends}]
        answer = ask(APP, "POST", "/v1/solutions", json.dumps(request).encode())
        assert answer.status == 200, answer.body
        (move,) = (s for s in answer.json["plan"] if s["action"] == "match_wedges")
        told.append((move["side"], move["direction"], move["amount"]["value"]))
    assert told == [("left", "rearward", 1.0), ("right", "forward", 1.0)]
