"""Simulated vehicles sent as texts: the answer is the truth, in whatever unit it was asked for."""

import math
from typing import Any

import msgspec
import pytest
from simulator import Case, fleet, request, seeded, stated
from simulator.wire import METRES

from service.api.solutions import solution_of
from service.contract.solution import SolutionRequest

UNITS = ("mm", "cm", "in")
POSE = ("offset", "thrust", "toe", "skew")


def solved(case: Case, unit: str, **extra: Any) -> dict[str, Any]:
    """The answer to a case, as a client reads it."""
    readings = [stated(reading) for reading in case.readings]
    body = request(case.vehicle, readings, unit, text=False, **extra)
    sent = msgspec.json.decode(msgspec.json.encode(body), type=SolutionRequest)
    return msgspec.json.decode(msgspec.json.encode(solution_of(sent)))


def some_cases() -> list[Case]:
    return list(fleet(seeded(80), designs=80, each=1))


@pytest.mark.parametrize("unit", UNITS)
def test_what_was_placed_comes_back_and_the_rest_is_null(unit: str) -> None:
    for case in some_cases():
        for axle in solved(case, unit)["axles"]:
            truth = case.vehicle.axle(axle["number"])
            for name in POSE:
                estimate = axle[name]
                assert (estimate is not None) == case.reach.has(name, truth.number), name
                if estimate is not None:
                    size = METRES[unit] if name == "offset" else math.radians(1)
                    assert estimate["value"] * size == pytest.approx(getattr(truth, name), abs=1e-9)
                    assert estimate["basis"] == case.reach.basis[name, truth.number]


def test_millimetres_and_inches_give_the_same_angles() -> None:
    for case in some_cases():
        first, second = solved(case, "mm"), solved(case, "in")
        for one, other in zip(first["axles"], second["axles"], strict=True):
            assert one.keys() == other.keys()
            for name, estimate in one.items():
                if isinstance(estimate, dict):
                    size = 25.4 if other[name]["unit"] == "in" else 1.0
                    assert other[name]["value"] * size == pytest.approx(estimate["value"], abs=1e-7)
                    uncertainty = other[name]["uncertainty"] * size
                    assert uncertainty == pytest.approx(estimate["uncertainty"], rel=1e-6)


def test_a_suspect_points_at_the_reading_that_was_misread() -> None:
    named = 0
    for case in fleet(seeded(81), designs=60, each=1):
        gaps = [i for i, r in enumerate(case.readings) if r["kind"] == "frame_gap"]
        if not gaps:
            continue
        place = gaps[0]
        twice = [*case.readings, case.readings[place], case.readings[place]]
        twice[place] = twice[place] | {"left": twice[place]["left"] + 0.05}
        case.readings = twice
        suspects = [suspect["pointer"] for suspect in solved(case, "in")["suspects"]]
        assert suspects == [f"#/readings/{place}"]
        named += 1
    assert named > 20
