"""Code compiled for a pattern tells what the steps tell that it was compiled from."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from simulator import Case, fleet, noisy, seeded, stated
from simulator.bridge import engine_readings, engine_vehicle

from service.geometry import compiled as module
from service.geometry.compiled import EARNED, MOST_ROWS, compiled
from service.geometry.course import Run
from service.geometry.latest import Latest
from service.geometry.pattern import Pattern, split
from service.geometry.residuals import suspects
from service.geometry.running import StraightRunning, straight_running
from service.geometry.solve import Solved, solve_numbers, solve_step_by_step
from service.geometry.stance import RunningAxle
from service.geometry.tyre_stiffness import stiffness_of_load, usual_loads
from service.geometry.uncertainty import CENTRING, TAPE


def numbered(case: Case) -> tuple[Pattern, list[float]]:
    """A pattern of its own for a case, and the numbers of the case."""
    readings = [part for row in case.readings for part in engine_readings(case.vehicle, row)]
    shape, numbers = split(engine_vehicle(case.vehicle), readings, CENTRING, TAPE, 0.01)
    return Pattern(shape), numbers


def misread_cases() -> list[Case]:
    """Cases with noise of ten times the usual size, so that readings contradict each other."""
    dice = seeded(90)
    cases = list(fleet(seeded(91), designs=120, each=1))
    for case in cases:
        readings = [noisy(stated(reading), dice) for reading in case.readings]
        case.readings = [
            {name: b + 9 * (b - a) if name in ("left", "right") else b for name, a, b in both}
            for both in (
                [(name, old[name], new[name]) for name in new]
                for old, new in zip(map(stated, case.readings), readings, strict=True)
            )
        ]
    return cases


def both(case: Case) -> tuple[Solved, Solved]:
    """Step by step, and by compiled code where the pattern is small enough for it."""
    pattern, numbers = numbered(case)
    slow = solve_step_by_step(pattern, numbers)
    pattern.seen = EARNED * pattern.rows
    return slow, solve_numbers(pattern, numbers)


def test_compiled_code_tells_the_same_numbers_as_the_steps() -> None:
    was_compiled = 0
    for case in [*fleet(seeded(92), designs=120, each=1), *misread_cases()]:
        slow, fast = both(case)
        was_compiled += compiled(fast.pattern) is not None
        assert fast.unknowns == pytest.approx(slow.unknowns, rel=1e-12, abs=1e-12)
        assert fast.values == pytest.approx(slow.values, rel=1e-12, abs=1e-12)
        assert fast.uncertainties == pytest.approx(slow.uncertainties, rel=1e-12)
        for number, group in enumerate(fast.pattern.groups):
            for row in range(group.size):
                expected = slow.factors[number][row]
                assert fast.factors[number][row] == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert was_compiled > 180


def test_compiled_code_doubts_the_readings_that_the_steps_doubt() -> None:
    doubted = 0
    for case in misread_cases():
        slow, fast = both(case)
        assert [s[:2] for s in suspects(fast)] == [s[:2] for s in suspects(slow)]
        doubted += fast.doubtful
    assert doubted > 20


def axles_of(solved: Solved) -> list[RunningAxle]:
    """The axles of a solved vehicle with the loads that nobody gave."""
    shape = solved.pattern.shape.axles
    found = []
    loads = usual_loads([axle[2] for axle in shape])
    for (number, _, steered, *_), load in zip(shape, loads, strict=True):
        slope = solved.pattern.unknown_of.get(("slope", number))
        thrust = None if slope is None else math.atan(solved.unknowns[slope])
        if steered and not any(axle.steered for axle in found):
            thrust = None
        distance = solved.numbers[solved.pattern.distance_of[number]]
        found.append(RunningAxle(number, distance, thrust, stiffness_of_load(load), steered))
    return found


def check_run(solved: Solved, run: Run) -> None:
    axles = axles_of(solved)
    hitch = 0.0 if solved.pattern.shape.towed else None
    expected = straight_running(axles, hitch=hitch)
    assert run.crab == pytest.approx(expected.crab, rel=1e-9, abs=1e-12)
    assert run.turn == pytest.approx(expected.turn or 0.0, rel=1e-9, abs=1e-12)
    slips = [axle.slip for axle in expected.axles]
    assert run.slips == pytest.approx(slips, rel=1e-9, abs=1e-12)
    assert run.sines == pytest.approx([math.sin(slip) for slip in slips], rel=1e-9, abs=1e-12)


def test_straight_running_of_a_solved_vehicle_is_the_equilibrium_of_its_axles() -> None:
    ran = 0
    for case in fleet(seeded(93), designs=120, each=1):
        for solved in both(case):
            if solved.run is not None:
                check_run(solved, solved.run)
                ran += 1
    assert ran > 100


def covariance(solved: Solved) -> np.ndarray:
    """Of all unknowns together, by a dense inverse; held ones have none."""
    count = solved.pattern.unknowns
    normal = np.zeros((count, count))
    for group in solved.pattern.groups:
        for row in group.rows:
            _, slopes, variance = row.equation(solved.numbers, solved.unknowns, math)
            derivatives = np.zeros(count)
            for unknown, slope in zip(row.unknowns, slopes, strict=True):
                derivatives[unknown] = slope if unknown in group.place else 0.0
            normal += np.outer(derivatives, derivatives) / variance
    size = np.sqrt(np.where(normal.diagonal() > 0, normal.diagonal(), 1.0))
    inverse: np.ndarray = np.linalg.pinv(normal / np.outer(size, size)) / np.outer(size, size)
    return inverse


def slopes_of(solved: Solved, tell: Callable[[StraightRunning], float]) -> np.ndarray:
    """Derivatives of a figure of straight running by every unknown, by small differences."""
    hitch = 0.0 if solved.pattern.shape.towed else None
    gradient = np.zeros(solved.pattern.unknowns)
    for unknown in range(len(gradient)):
        told = []
        for step in (-1e-5, 1e-5):
            unknowns = list(solved.unknowns)
            unknowns[unknown] += step
            moved = solved._replace(unknowns=unknowns)
            told.append(tell(straight_running(axles_of(moved), hitch=hitch)))
        gradient[unknown] = (told[1] - told[0]) / 2e-5
    return gradient


def test_the_uncertainty_of_straight_running_is_that_of_its_aims() -> None:
    """JCGM 100, 5.2.2: gradient, covariance of the unknowns, gradient."""
    ran = 0
    for case in fleet(seeded(94), designs=60, each=1):
        solved = both(case)[1]
        if solved.run is None:
            continue
        spread = covariance(solved)
        for u, tell in (
            (solved.run.crab_u, lambda running: running.crab),
            (solved.run.turn_u, lambda running: running.turn or 0.0),
        ):
            gradient = slopes_of(solved, tell)
            expected = math.sqrt(max(gradient @ spread @ gradient, 0.0))
            assert u == pytest.approx(expected, rel=1e-5, abs=1e-12)
        ran += 1
    assert ran > 30


def test_a_vehicle_that_nothing_steers_or_that_steers_all_round_has_no_course() -> None:
    for case in fleet(seeded(95), designs=60, each=1):
        steered = [axle.role == "steer" for axle in case.vehicle.axles]
        if all(steered):
            assert both(case)[1].run is None


def test_patterns_beyond_the_room_for_them_give_way_and_come_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(module, "_kept", Latest(3))
    cases = list(fleet(seeded(96), designs=8, each=1))
    patterns = [numbered(case)[0] for case in cases]
    small = [pattern for pattern in patterns if pattern.rows <= MOST_ROWS]
    for pattern in small:
        assert compiled(pattern) is None or EARNED * pattern.rows <= 1
        assert compiled(pattern, EARNED * pattern.rows) is not None
    assert list(module._kept) == small[-3:]
    assert compiled(small[0], EARNED * small[0].rows - 1) is None
    assert compiled(small[0]) is not None


def test_a_pattern_of_very_many_equations_is_not_compiled() -> None:
    case = next(iter(fleet(seeded(97), designs=1, each=1)))
    pattern, _ = numbered(case)
    pattern.rows = MOST_ROWS + 1
    assert compiled(pattern, 10_000) is None
