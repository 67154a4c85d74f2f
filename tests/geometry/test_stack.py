"""Vehicles of one pattern solved as a stack have the numbers that each has by itself."""

import pytest
from simulator import Case, fleet, noisy, seeded, stated
from simulator.bridge import engine_readings, engine_vehicle

from service.geometry.compiled import EARNED, compiled
from service.geometry.pattern import Pattern, pattern_of, split
from service.geometry.residuals import suspects
from service.geometry.solve import Solved, solve_numbers
from service.geometry.stack import FEWEST, solve_stack
from service.geometry.uncertainty import CENTRING, TAPE


def stacks(seed: int, designs: int, each: int) -> list[tuple[Pattern, list[list[float]]]]:
    """Noisy vehicles of the fleet by pattern, each pattern compiled where it is small enough."""
    dice = seeded(seed)
    found: dict[Pattern, list[list[float]]] = {}
    for case in fleet(seeded(seed + 1), designs=designs, each=each):
        pattern, numbers = numbered(case, dice)
        found.setdefault(pattern, []).append(numbers)
    for pattern in found:
        pattern.seen = EARNED * pattern.rows
    return list(found.items())


def numbered(case: Case, dice: object) -> tuple[Pattern, list[float]]:
    readings = [
        part
        for reading in case.readings
        for part in engine_readings(case.vehicle, noisy(stated(reading), dice))
    ]
    shape, numbers = split(engine_vehicle(case.vehicle), readings, CENTRING, TAPE)
    return pattern_of(shape), numbers


def check(one: Solved, other: Solved | None) -> None:
    assert isinstance(other, Solved)
    assert other.unknowns == pytest.approx(one.unknowns, rel=1e-12, abs=1e-12)
    assert other.values == pytest.approx(one.values, rel=1e-12, abs=1e-12)
    assert other.uncertainties == pytest.approx(one.uncertainties, rel=1e-12)
    assert [s[:2] for s in suspects(other)] == [s[:2] for s in suspects(one)]
    assert (other.run is None) == (one.run is None)
    if one.run is not None and other.run is not None:
        assert other.run[1:5] == pytest.approx(one.run[1:5], rel=1e-12, abs=1e-12)
        assert other.run.slips == pytest.approx(one.run.slips, rel=1e-12, abs=1e-12)
        assert other.run.sines == pytest.approx(one.run.sines, rel=1e-12, abs=1e-12)


def solved_of(pattern: Pattern, numbers: list[list[float]]) -> list[Solved | None]:
    """The vehicles of a stack; none of them where it is not solved as one."""
    stack = solve_stack(pattern, numbers)
    if stack is None:
        return [None] * len(numbers)
    return [stack.solved(place) if sound else None for place, sound in enumerate(stack.sound)]


def test_every_vehicle_of_a_stack_has_its_own_numbers_to_the_last_digits() -> None:
    stacked = 0
    for pattern, numbers in stacks(70, designs=60, each=FEWEST + 3):
        for own, solved in zip(numbers, solved_of(pattern, numbers), strict=True):
            if solved is not None:
                check(solve_numbers(pattern, own), solved)
                stacked += 1
    assert stacked > 700


def test_a_few_vehicles_are_left_to_be_solved_one_by_one() -> None:
    for pattern, numbers in stacks(72, designs=20, each=FEWEST - 1):
        few = numbers[: FEWEST - 1]
        assert solve_stack(pattern, few) is None


def spanned() -> tuple[Pattern, list[list[float]]]:
    """A pattern with curved equations, compiled, and a stack of its vehicles."""
    for pattern, numbers in stacks(74, designs=40, each=FEWEST + 3):
        kinds = [shape[0] for shape in pattern.shape.readings]
        if "kingpin_span" in kinds and compiled(pattern) is not None:
            return pattern, numbers
    raise AssertionError("the fleet has no trailer that is small enough")


def test_a_vehicle_that_fits_nothing_does_not_hold_up_the_others() -> None:
    pattern, numbers = spanned()
    expected = list(map(solve_numbers, [pattern] * len(numbers), numbers))
    broken = [list(row) for row in numbers]
    broken[3] = [float("nan")] * len(broken[3])
    found = solved_of(pattern, broken)
    assert found[3] is None
    for place, one in enumerate(expected):
        if place != 3:
            check(one, found[place])


def test_readings_that_contradict_each_other_badly_are_left_to_be_solved_with_care() -> None:
    pattern, numbers = spanned()
    at = min(at for (kind, _), at in pattern.spread_of.items() if kind == "kingpin_span") - 2
    torn = [list(row) for row in numbers]
    for place, row in enumerate(torn):
        row[at + 1] += 0.7 * (place % 5)
    left = 0
    for own, solved in zip(torn, solved_of(pattern, torn), strict=True):
        if solved is None:
            left += 1
        else:
            check(solve_numbers(pattern, own), solved)
    assert 0 < left < len(torn)
