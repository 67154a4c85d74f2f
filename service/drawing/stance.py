"""Where axles and wheels are drawn: true along and across the frame, aims and offsets enlarged.

Aims of a tenth of a degree decide and cannot be seen; they are drawn a stated number of times as
large, and so are offsets.
"""

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from service.drawing.subject import Measure, Round
from service.geometry.vehicle import DEFAULT_WIDTH, Axle, Vehicle

FACTORS = (100, 50, 20, 10, 5, 2, 1)

NARROWEST, WIDEST = 80.0, 130.0
SHORTEST, LONGEST, PER_AXLE = 470.0, 1000.0, 84.0
"""Size of a vehicle on the sheet, in its units: room across, and length by its axles."""

AIM_LIMIT = math.radians(9)
OFFSET_LIMIT = 15.0
"""The largest aim and the largest offset (sheet units) that an enlarged one may reach."""

MOST_AIM = math.radians(20)
MOST_OFFSET = 24.0
"""Nothing is drawn further off than this, however far off it is."""

USUAL_DIAMETER = 1.02
"""Tyre diameter drawn when none is given: about 40 in, metres (industry, from memory)."""

TYRE, DUAL_GAP = 0.27, 0.06
"""Width of a tyre and the gap of a dual pair as drawn, metres (industry, from memory)."""

AHEAD = {"tractor": 1.2, "truck": 1.2, "trailer": 0.9, "dolly": 0.0}
BEHIND = 0.9
"""How far the frame is drawn beyond its first station and its last axle, metres."""


class Drawn(NamedTuple):
    """Sheet units per metre and how many times aims and offsets are enlarged."""

    per_metre: float
    aim_factor: int
    offset_factor: int
    aims_cut: bool
    offsets_cut: bool
    half: float
    """Half the width kept free for the vehicle with its axles turned and off centre."""
    plain: bool = False
    """Whether nothing was to be read yet: what is not known is then no news."""


class Stance(NamedTuple):
    """How one axle is drawn: radians and sheet units, cut to what the sheet holds."""

    offset: float
    beam: float
    left: float
    right: float
    beam_known: bool
    wheels_known: bool
    aim: float | None


def span_of(vehicle: Vehicle) -> tuple[float, float]:
    """Distance of the drawn frame's front end and rear end from the reference point, metres."""
    length = vehicle.axles[-1].distance
    ahead = min(AHEAD[vehicle.kind], 0.15 * length) if length else AHEAD[vehicle.kind]
    behind = min(BEHIND, 0.15 * length) if length else BEHIND
    return -ahead, length + behind


def width_of_axle(axle: Axle) -> float:
    """Width over the tyres, given or usual, metres."""
    return axle.width or DEFAULT_WIDTH


def drawn_scale(rounds: Sequence[Round]) -> Drawn:
    """One scale and one pair of factors for all rounds, so that they can be compared by eye."""
    vehicle = rounds[0].vehicle
    front, rear = span_of(vehicle)
    widest = max(width_of_axle(axle) for axle in vehicle.axles)
    room = min(max(SHORTEST, PER_AXLE * len(vehicle.axles)), LONGEST)
    per_metre = min(WIDEST / widest, room / (rear - front))
    aims = [abs(aim) for one in rounds for aim in _aims(one)]
    offsets = [abs(offset) * per_metre for one in rounds for offset in _offsets(one)]
    aim_factor = _factor(aims, AIM_LIMIT)
    offset_factor = _factor(offsets, OFFSET_LIMIT)
    return Drawn(
        per_metre,
        aim_factor,
        offset_factor,
        any(aim_factor * aim > MOST_AIM for aim in aims),
        any(offset_factor * offset > MOST_OFFSET for offset in offsets),
        max(widest * per_metre / 2, NARROWEST / 2)
        + min(offset_factor * max(offsets, default=0.0), MOST_OFFSET)
        + 9.0,
    )


def _factor(sizes: Iterable[float], limit: float) -> int:
    largest = max(sizes, default=0.0)
    return next((factor for factor in FACTORS if factor * largest <= limit), 1)


def _aims(one: Round) -> Iterable[float]:
    for axle in one.vehicle.axles:
        told = one.axles.get(axle.number, {})
        for name in ("skew" if axle.steered else "thrust", "toe_left", "toe_right"):
            if name in told:
                yield told[name].value
        if "toe" in told:
            yield told["toe"].value / 2


def _offsets(one: Round) -> Iterable[float]:
    for told in one.axles.values():
        if "offset" in told:
            yield told["offset"].value


def stance_of(one: Round, axle: Axle, drawn: Drawn) -> Stance:
    """How an axle is drawn; wheels without a toe stand as their axle aims."""
    told = one.axles.get(axle.number, {})
    offset = _value(told.get("offset")) * drawn.per_metre * drawn.offset_factor
    aim = told.get("thrust")
    beam = told.get("skew") if axle.steered else aim
    mean, toe = _value(aim), _value(told.get("toe"))

    def turned(angle: float) -> float:
        return min(max(angle * drawn.aim_factor, -MOST_AIM), MOST_AIM)

    return Stance(
        min(max(offset, -MOST_OFFSET), MOST_OFFSET),
        turned(_value(beam)),
        turned(mean + toe / 2),
        turned(mean - toe / 2),
        beam is not None or drawn.plain,
        drawn.plain or "toe" in told or (aim is not None and not axle.steered),
        None if aim is None or axle.steered else turned(mean),
    )


def _value(measure: Measure | None) -> float:
    return 0.0 if measure is None else measure.value
