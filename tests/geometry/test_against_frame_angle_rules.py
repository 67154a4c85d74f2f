"""Caster on a frame that is not level, against the rules a truck maker prints.

Source: GM medium-duty manuals (Kodiak, TopKick), frame-angle correction: an angle down at the rear
is subtracted from positive caster and added to negative caster; an angle up at the rear is added to
positive and subtracted from negative caster. An International text prints the reverse for the frame
that is high in front; plane geometry stands with GM: a nose that points up leans the kingpin back.
"""

import math

import pytest

from service.geometry.readings import CasterSweep, WheelAngle
from service.geometry.solve import solve
from service.geometry.vehicle import Axle, Vehicle

TRUCK = Vehicle("truck", (Axle(1, "steer", 0.0),))
RULES = [(4.0, 1.0, 3.0), (4.0, -1.0, 5.0), (-2.0, 1.0, -3.0), (-2.0, -1.0, -1.0)]
"""Measured caster, frame down at the rear, corrected caster, degrees."""


@pytest.mark.parametrize(("measured", "frame", "corrected"), RULES)
def test_the_frame_angle_is_taken_off_a_measured_caster(
    measured: float, frame: float, corrected: float
) -> None:
    reading = WheelAngle(1, "left", "caster", math.radians(measured), 1e-4)
    solved = solve(TRUCK, [reading], frame_angle=math.radians(frame))
    told = solved.get("caster_left", 1)
    assert told is not None
    assert math.degrees(told[0]) == pytest.approx(corrected, abs=1e-12)


@pytest.mark.parametrize(("measured", "frame", "corrected"), RULES)
def test_the_frame_angle_is_taken_off_a_swept_caster(
    measured: float, frame: float, corrected: float
) -> None:
    # The camber swing of a sweep: twice the sine of the turn times caster.
    turn, swing = math.radians(20), math.radians(measured) * math.sin(math.radians(20))
    reading = CasterSweep(1, "left", turn, swing, -swing, 1e-4)
    told = solve(TRUCK, [reading], frame_angle=math.radians(frame)).get("caster_left", 1)
    assert told is not None
    assert math.degrees(told[0]) == pytest.approx(corrected, abs=1e-12)


def test_the_frame_angle_does_not_touch_cross_caster() -> None:
    readings = [
        WheelAngle(1, side, "caster", math.radians(caster), 1e-4)
        for side, caster in (("left", 3.5), ("right", 4.0))
    ]
    for frame in (-1.0, 0.0, 2.0):
        told = solve(TRUCK, readings, frame_angle=math.radians(frame)).get("cross_caster", 1)
        assert told is not None
        assert math.degrees(told[0]) == pytest.approx(0.5, abs=1e-12)
