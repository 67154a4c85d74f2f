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
