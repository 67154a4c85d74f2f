"""`POST /v1/comparisons`: what changed between two rounds of one vehicle."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from asking import Answer, ask

from service.app import create_app

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
SAMPLE: dict[str, Any] = json.loads((EXAMPLES / "comparison-request.json").read_text("utf-8"))
APP = create_app()


def compare(request: Any) -> Answer:
    """Send a comparison request."""
    return ask(APP, "POST", "/v1/comparisons", json.dumps(request).encode())


def test_findings_that_the_work_cured_are_named() -> None:
    answer = compare(SAMPLE).json
    assert set(answer["cured"]) == {"toe-1", "thrust-3", "scrub-2-3"}
    assert answer["appeared"] == []


def test_the_same_work_backwards_makes_the_same_findings_appear() -> None:
    answer = compare({"before": SAMPLE["after"], "after": SAMPLE["before"]}).json
    assert set(answer["appeared"]) == {"toe-1", "thrust-3", "scrub-2-3"}
    assert answer["cured"] == []


def test_a_change_is_after_less_before_with_the_uncertainty_of_both() -> None:
    answer = compare(SAMPLE).json
    [thrust] = [c for c in answer["changes"] if (c["quantity"], c["axle"]) == ("thrust", 3)]
    assert thrust["change"]["value"] == pytest.approx(
        thrust["after"]["value"] - thrust["before"]["value"], abs=1e-11
    )
    both = [thrust[name]["uncertainty"] for name in ("before", "after")]
    # Two independent results: the variances of both add up (JCGM 100, 5.1.2).
    assert thrust["change"]["uncertainty"] == pytest.approx((both[0] ** 2 + both[1] ** 2) ** 0.5)
    assert thrust["significant"]


def quantities(answer: Any) -> dict[tuple[str, int], Any]:
    """The changes by quantity and axle."""
    return {(change["quantity"], change["axle"]): change for change in answer["changes"]}


def test_the_example_is_answered_as_its_stored_answer_says() -> None:
    stored = json.loads((EXAMPLES / "comparison.json").read_text("utf-8"))
    answer = compare(SAMPLE).json
    for name in ("changes", "findings", "cured", "appeared"):
        assert json.dumps(answer[name]) == json.dumps(stored[name]), name


def with_toe(toe: str, **more: Any) -> dict[str, Any]:
    """The round before with another toe."""
    request = copy.deepcopy(SAMPLE["before"])
    [reading] = [r for r in request["readings"] if r["kind"] == "toe_scale"]
    reading |= {"toe": toe, **more}
    return request


@pytest.mark.parametrize(("change", "significant"), [("0.0275", False), ("0.0290", True)])
def test_a_change_counts_when_it_is_more_than_twice_its_standard_uncertainty(
    change: str, significant: bool
) -> None:
    """0.01 in of standard uncertainty each time: 0.0141 in of their difference, 0.0283 in twice."""
    before = with_toe("0.0500", uncertainty="0.01")
    after = with_toe(str(0.05 + float(change)), uncertainty="0.01")
    toe = quantities(compare({"before": before, "after": after}).json)["toe_length", 1]
    assert toe["change"]["uncertainty"] == pytest.approx(2 * 0.01 * 2**0.5, abs=1e-9)
    assert toe["change"]["value"] == pytest.approx(float(change), abs=1e-9)
    assert toe["significant"] is significant


def test_every_quantity_that_both_rounds_reach_is_compared_and_no_other() -> None:
    fewer = copy.deepcopy(SAMPLE)
    fewer["after"]["readings"] = [
        reading for reading in fewer["after"]["readings"] if reading["kind"] != "toe_scale"
    ]
    both, without = quantities(compare(SAMPLE).json), quantities(compare(fewer).json)
    assert {name for name, axle in both.keys() - without.keys() if axle == 1} >= {"toe"}
    for axle in compare(SAMPLE).json["after"]["axles"]:
        for name, estimate in axle.items():
            if isinstance(estimate, dict) and name != "toe_baseline":
                assert both[name, axle["number"]]["after"]["value"] == estimate["value"]


def test_what_was_not_judged_after_is_neither_cured_nor_appeared() -> None:
    fewer = copy.deepcopy(SAMPLE)
    fewer["after"]["readings"] = [
        reading for reading in fewer["after"]["readings"] if reading["kind"] != "toe_scale"
    ]
    answer = compare(fewer).json
    [toe] = [turn for turn in answer["findings"] if turn["finding"] == "toe-1"]
    assert (toe["before"], toe["after"]) == ("nonconforming", None)
    assert not toe["cured"]
    assert not toe["appeared"]
    assert "toe-1" not in answer["cured"]


def test_rounds_in_two_units_are_compared_in_the_unit_of_the_later_one() -> None:
    metric = copy.deepcopy(SAMPLE["after"])
    for place in (metric["vehicle"]["axles"], metric["readings"]):
        for row in place:
            for name in ("distance", "tyre_diameter", "left", "right", "toe", "spread"):
                if name in row and row.get("kind") != "wedge":
                    row[name] += " in"
    metric["length_unit"] = "mm"
    inches = quantities(compare(SAMPLE).json)
    answer = compare({"before": SAMPLE["before"], "after": metric}).json
    assert answer["length_unit"] == "mm"
    for key, change in quantities(answer).items():
        size = 25.4 if change["change"]["unit"] == "mm" else 1.0
        for part in ("before", "after", "change"):
            assert change[part]["value"] == pytest.approx(
                inches[key][part]["value"] * size, abs=1e-8
            )


def test_an_assumption_of_both_rounds_leaves_a_change_on_the_safe_side() -> None:
    """Nobody taped an axle: if it sits where it sat, the change is surer than it is said to be."""
    untaped = copy.deepcopy(SAMPLE)
    for request in untaped.values():
        request["readings"] = [r for r in request["readings"] if r["kind"] != "frame_gap"]
    taped = quantities(compare(SAMPLE).json)["thrust", 3]["change"]
    assumed = quantities(compare(untaped).json)["thrust", 3]["change"]
    assert assumed["uncertainty"] > 2 * taped["uncertainty"]
    assert assumed["basis"] == "partly_assumed"


def test_nothing_changed_is_no_significant_change() -> None:
    answer = compare({"before": SAMPLE["before"], "after": SAMPLE["before"]}).json
    assert {change["change"]["value"] for change in answer["changes"]} == {0.0}
    assert not any(change["significant"] for change in answer["changes"])


def test_a_fault_points_into_the_round_that_has_it() -> None:
    spoiled = copy.deepcopy(SAMPLE)
    spoiled["after"]["readings"][0]["left"] = "nothing"
    answer = compare(spoiled)
    assert answer.slug == "unreadable-text"
    assert answer.pointers == ["#/after/readings/0/left"]


def test_two_vehicles_are_not_compared() -> None:
    other = copy.deepcopy(SAMPLE)
    other["after"]["vehicle"]["axles"][1]["role"] = "pusher"
    answer = compare(other)
    assert answer.status == 422
    assert answer.pointers == ["#/after/vehicle"]
