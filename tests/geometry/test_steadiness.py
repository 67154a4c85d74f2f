"""An uncertainty that is called steady is the same however the vehicle stands."""

import pytest
from simulator import fleet, noisy, seeded, stated
from simulator.bridge import engine_readings, engine_vehicle

from service.geometry.pattern import pattern_of, split
from service.geometry.solve import solve_numbers
from service.geometry.steadiness import steady_uncertainties
from service.geometry.uncertainty import CENTRING, TAPE


def test_steady_uncertainties_do_not_change_with_what_is_read() -> None:
    dice = seeded(91)
    steady_ones = moving_ones = 0
    for case in fleet(seeded(90), designs=120, each=1):
        found = []
        for _ in range(2):  # twice the same vehicle, read with other errors
            readings = [
                part
                for reading in case.readings
                for part in engine_readings(case.vehicle, noisy(stated(reading), dice))
            ]
            shape, numbers = split(engine_vehicle(case.vehicle), readings, CENTRING, TAPE)
            found.append(solve_numbers(pattern_of(shape), numbers))
        one, other = found
        steady = steady_uncertainties(one.pattern)
        for is_steady, u, v in zip(steady, one.uncertainties, other.uncertainties, strict=True):
            if is_steady:
                assert v == pytest.approx(u, rel=1e-12)
                steady_ones += 1
            else:
                moving_ones += u != v
    assert steady_ones > 100
    assert moving_ones > 50
