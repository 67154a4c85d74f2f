"""A reading that its fellows contradict is named, and no other.

Data snooping as in geodetic adjustment (Baarda 1968, from memory): with one blunder and no noise
the largest normalised residual is that of the blunder, whatever the weights. How well each reading
is checked by the others is worked out here from the simulator's own derivatives.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from simulator import (
    Axle,
    Case,
    Reading,
    Vehicle,
    fleet,
    jacobian,
    noisy,
    read_all,
    seeded,
    stated,
    unknowns,
)
from simulator.bridge import answers, engine_readings, solved_readings
from simulator.rank import channels, taped
from simulator.readings import VALUES

from service.geometry.residuals import CRITICAL, suspects
from service.geometry.uncertainty import CENTRING

MISREAD = 9.0
"""Normalised residual that a blunder is made to show: far above noise, far below absurd."""


@dataclass
class Check:
    """How the others check a reading that says one thing.

    `share` of a misreading shows in its own residual; `rival` is the correlation with the
    residual most like it (1: nothing tells the two apart); `error` is the misreading of one of
    its values that shows as a normalised residual of MISREAD.
    """

    item: int
    share: float
    rival: float
    error: float


def leverage(reading: Reading) -> tuple[float, float]:
    """What one value and its uncertainty each become in what a reading says (see `channels`)."""
    if reading["kind"] in ("toe_scale", "wheel_angle"):
        return 1.0, 1.0
    if reading["kind"] == "toe_width":
        return 1.0, 2**0.5
    return 0.5, 0.5**0.5


def checks(case: Case) -> list[Check]:
    """Every reading of a case that the others check to at least a twentieth."""
    owner = [
        index
        for index, (item, reading) in enumerate(zip(case.items, case.readings, strict=True))
        for _ in channels(case.vehicle, item, reading)
    ]
    spreads = [case.readings[i]["uncertainty"] * leverage(case.readings[i])[1] for i in owner]
    names = unknowns(case.vehicle)
    centred = [
        place
        for place, (name, axle) in enumerate(names)
        if name == "offset" and axle not in taped(case.items)
    ]
    rows = jacobian(case.vehicle, case.items) / np.array(spreads)[:, None]
    rows = np.vstack([rows, np.eye(len(names))[centred] / CENTRING])
    left_over = np.eye(len(rows)) - rows @ np.linalg.pinv(rows, rcond=1e-9)
    sizes = np.sqrt(np.clip(left_over.diagonal(), 0.0, None))
    found = []
    for row, index in enumerate(owner):
        if owner.count(index) == 1 and left_over[row, row] > 0.05:
            others = (sizes > 1e-3) & (np.arange(len(sizes)) != row)
            alike = np.abs(left_over[row, others]) / (sizes[row] * sizes[others])
            error = MISREAD * spreads[row] / sizes[row] / leverage(case.readings[index])[0]
            found.append(Check(index, left_over[row, row], alike.max(initial=0.0), error))
    return found


def misread(reading: Reading, error: float) -> Reading:
    """The reading with its first value off by an error."""
    name = next(name for name in VALUES[reading["kind"]] if name in reading)
    return reading | {name: reading[name] + error}


def named(vehicle: Vehicle, readings: list[Reading]) -> list[int | None]:
    """Which of the readings are suspected, worst first; None is an assumption."""
    owner = [i for i, r in enumerate(readings) for _ in engine_readings(vehicle, r)]
    found = suspects(solved_readings(vehicle, readings, width_uncertainty=0.0))
    return [None if s.reading is None else owner[s.reading] for s in found]


def test_one_misread_reading_is_named_alone() -> None:
    dice, tried = seeded(70), 0
    for case in fleet(seeded(71), designs=400, each=1):
        case.readings = [stated(reading) for reading in case.readings]
        clear = [check for check in checks(case) if check.rival < 0.95]
        if clear:
            check = dice.choice(clear)
            readings = list(case.readings)
            readings[check.item] = misread(readings[check.item], dice.choice((-1, 1)) * check.error)
            assert named(case.vehicle, readings) == [check.item]
            tried += 1
    assert tried > 100


def test_two_readings_that_only_contradict_each_other_are_both_named() -> None:
    vehicle = Vehicle("truck", [Axle(1, "steer", 0.0, offset=0.004)])
    [gap] = [stated(r) for r in read_all(vehicle, [{"kind": "frame_gap", "axle": 1}])]
    readings = [gap, misread(gap, 0.02)]
    assert sorted(named(vehicle, readings)) == [0, 1]


def test_a_reading_misread_on_both_of_its_counts_is_named_once() -> None:
    # Widths are stated, so a sightline speaks of aim and of toe; both are wrong here.
    axles = [Axle(1, "steer", 0.0, width_over_tyres=2.4)]
    axles.append(Axle(2, "drive", 5.0, thrust=0.002, width_over_tyres=2.4))
    vehicle = Vehicle("truck", axles)
    items = [{"kind": "frame_gap", "axle": axle} for axle in (1, 2)]
    items += [{"kind": "sightline", "axle": 2}] * 3
    items.append({"kind": "toe_scale", "axle": 2, "baseline": 1.0})
    readings = [stated(reading) for reading in read_all(vehicle, items)]
    readings[3] = misread(readings[3], 0.02)
    assert named(vehicle, readings) == [3]


def test_exact_readings_are_never_suspected() -> None:
    for case in fleet(seeded(72), designs=100, each=1):
        assert named(case.vehicle, [stated(reading) for reading in case.readings]) == []


def test_honest_noise_is_seldom_suspected() -> None:
    # One check in a thousand passes the bound by chance; a vehicle makes some ten checks.
    dice, checked, false = seeded(73), 0, 0
    for case in fleet(seeded(74), designs=100, each=10):
        readings = [noisy(stated(reading), dice) for reading in case.readings]
        checked += 1
        false += bool(named(case.vehicle, readings))
    assert CRITICAL > 3
    assert false / checked < 0.02


def test_readings_that_nothing_checks_are_not_suspected() -> None:
    vehicle = Vehicle("truck", [Axle(1, "steer", 0.0), Axle(2, "drive", 5.0)])
    items = [{"kind": "frame_gap", "axle": 2}, {"kind": "sightline", "axle": 2}]
    readings = [misread(stated(r), 0.1) for r in read_all(vehicle, items)]
    assert named(vehicle, readings) == []


def test_a_kingpin_span_and_a_sightline_that_disagree_by_an_inch_are_named() -> None:
    vehicle = Vehicle("trailer", [Axle(1, "trailer", 10.8166, width_over_tyres=2.4)])
    items = [
        {"kind": "sightline", "axle": 1},
        {"kind": "kingpin_span", "axle": 1, "spread": 1.9},
        {"kind": "toe_scale", "axle": 1, "baseline": 1.0},
    ]
    sight, pin, toe = [stated(reading) for reading in read_all(vehicle, items)]
    for error in np.linspace(-0.06, 0.06, 41):
        readings = [misread(sight, float(error)), pin, toe]
        assert set(named(vehicle, readings)) <= {0, 1, 2, None}


@pytest.mark.parametrize("inboard", [0.0, 0.25, 0.5, 1.0, 2.0, 4.0])
def test_a_sightline_that_the_widths_contradict_keeps_its_aim(inboard: float) -> None:
    # The mean of the two sides tells toe; only their difference, 1/4 in over 52 in, tells aim.
    inch = 0.0254
    axles = [Axle(n, "dolly", d * inch, width_over_tyres=96 * inch) for n, d in ((1, 80), (2, 132))]
    vehicle = Vehicle("dolly", axles)
    readings: list[Reading] = [
        {
            "kind": "sightline",
            "axle": 2,
            "reference": 1,
            "left": -inboard * inch,
            "right": (0.25 - inboard) * inch,
        },
        {"kind": "toe_scale", "axle": 2, "toe": 0.0, "baseline": 40 * inch},
    ]
    thrust, _ = answers(solved_readings(vehicle, readings))["thrust", 2]
    assert math.degrees(thrust) == pytest.approx(0.1377, abs=0.01)


def test_readings_twenty_times_worse_than_stated_are_solved_and_checked() -> None:
    dice = seeded(75)
    for case in fleet(seeded(76), designs=600, each=1):
        readings = []
        for reading in case.readings:
            known = stated(reading)
            rough = {"uncertainty": 20 * known["uncertainty"]}
            readings.append(noisy(known | rough, dice) | {"uncertainty": known["uncertainty"]})
        named(case.vehicle, readings)
