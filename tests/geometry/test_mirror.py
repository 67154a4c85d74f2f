"""A mirrored vehicle flips every signed result, swaps the sides, and alters nothing else."""

import pytest
from hypothesis import given, settings
from simulator import FLIPPED, Case, fleet, mirror_reading, mirror_vehicle, noisy, seeded, stated
from simulator.bridge import answers, solved_readings
from simulator.strategies import cases

KEPT = frozenset({"toe", "toe_length"})
OTHER = {"left": "right", "right": "left"}


def mirrored(key: tuple[str, int]) -> tuple[str, int]:
    """Name that a quantity goes by in the mirror."""
    name, axle = key
    if name in FLIPPED or name in KEPT:
        return key
    stem, _, side = name.rpartition("_")
    return f"{stem}_{OTHER[side]}", axle


def check(case: Case) -> None:
    seen = answers(solved_readings(case.vehicle, case.readings))
    through = answers(
        solved_readings(mirror_vehicle(case.vehicle), [mirror_reading(r) for r in case.readings])
    )
    assert through.keys() == {mirrored(key) for key in seen}
    for key, (value, u) in seen.items():
        sign = -1.0 if key[0] in FLIPPED else 1.0
        other_value, other_u = through[mirrored(key)]
        assert other_value == pytest.approx(sign * value, abs=1e-11)
        assert other_u == pytest.approx(u, rel=1e-8)


@given(case=cases())
@settings(max_examples=150, deadline=None)
def test_exact_readings_in_the_mirror(case: Case) -> None:
    check(case)


def test_noisy_readings_in_the_mirror() -> None:
    dice = seeded(50)
    for case in fleet(seeded(51), designs=200, each=2):
        case.readings = [noisy(stated(reading), dice) for reading in case.readings]
        check(case)


def test_every_signed_quantity_was_looked_at() -> None:
    told = {
        name
        for case in fleet(seeded(52), designs=120, each=1)
        for name, _ in answers(solved_readings(case.vehicle, case.readings))
    }
    assert told >= FLIPPED | KEPT
