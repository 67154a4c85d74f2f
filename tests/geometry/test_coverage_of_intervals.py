"""A 95 % interval holds the truth 95 times in a hundred, for noise of the size that is stated.

Twenty thousand vehicles; the interval is value +- 1.96 u, as the noise is gaussian of known size
(JCGM 100:2008, 6.2 and annex G). Each quantity counts once a vehicle, so that the throws counted
are independent.
"""

import random
from collections import Counter
from collections.abc import Iterator

from simulator import Case, Vehicle, fleet, noisy, read_all, seeded, stated
from simulator.bridge import answers, solved_readings
from simulator.rank import taped

from service.geometry.uncertainty import CENTRING

K95 = 1.959964
CASES = 20_000
QUANTITIES = ("offset", "thrust", "toe", "skew")


def off_centre(case: Case, dice: random.Random) -> Vehicle:
    """Axles whose centring nobody reads stand as far out as the assumption gives them leave to."""
    for axle in case.vehicle.axles:
        if axle.number not in taped(case.items):
            axle.offset = dice.gauss(0.0, CENTRING)
    return case.vehicle


def errors(seed: int, designs: int, each: int) -> Iterator[dict[str, float]]:
    """Error over standard uncertainty of one axle's offset, thrust, toe and skew, a vehicle."""
    dice = seeded(seed)
    for case in fleet(seeded(seed + 1), designs, each):
        vehicle = off_centre(case, dice)
        readings = [noisy(stated(r), dice) for r in read_all(vehicle, case.items)]
        # Widths over tyres are the true ones here: no noise, so no uncertainty either.
        told = answers(solved_readings(vehicle, readings, width_uncertainty=0.0))
        found: dict[str, list[float]] = {name: [] for name in QUANTITIES}
        for (name, axle), (value, u) in told.items():
            if name in found:
                found[name].append((value - getattr(vehicle.axle(axle), name)) / u)
        yield {name: dice.choice(some) for name, some in found.items() if some}


def test_95_percent_intervals_cover_between_94_and_96_percent() -> None:
    asked, held = Counter[str](), Counter[str]()
    cases = 0
    for case in errors(40, designs=400, each=50):
        cases += 1
        for name, error in case.items():
            asked[name] += 1
            held[name] += abs(error) <= K95
    assert cases == CASES
    assert min(asked[name] for name in ("offset", "thrust", "toe")) > CASES / 2
    assert asked["skew"] > CASES / 4
    covered = {name: held[name] / asked[name] for name in QUANTITIES}
    assert all(0.94 <= share <= 0.96 for share in covered.values()), covered


def test_errors_are_centred_and_as_wide_as_stated() -> None:
    sums, squares, asked = Counter[str](), Counter[str](), Counter[str]()
    for case in errors(42, designs=200, each=20):
        for name, error in case.items():
            asked[name] += 1
            sums[name] += error
            squares[name] += error * error
    for name in QUANTITIES:
        assert abs(sums[name] / asked[name]) < 4 / asked[name] ** 0.5
        assert abs(squares[name] / asked[name] - 1) < 4 * (2 / asked[name]) ** 0.5
