"""A technician who moves a simulated vehicle exactly as a step says, knowing no planner's formula.

Ends of a rigid beam are points of the plane; an end that is held stays where it is.
"""

import math
from dataclasses import replace

import pytest
from geometry.planning.yard import BOTH, LONGITUDINAL, Adjuster, Job
from simulator import Axle, Vehicle
from simulator.plane import Point

from service.contract.solution import PlanStep

METRES = {"in": 0.0254, "mm": 0.001, "cm": 0.01}
AXLE_ENDS = 71.5 * 0.0254
"""Where amounts are stated if nothing says otherwise: the track of a 96 in wide vehicle."""


def carried_out(job: Job, steps: list[PlanStep]) -> list[Vehicle]:
    """The vehicle after each step, in order."""
    stood, vehicle = [], job.vehicle
    for step in steps:
        vehicle = after_step(job, vehicle, step)
        stood.append(vehicle)
    return stood


def after_step(job: Job, vehicle: Vehicle, step: PlanStep) -> Vehicle:
    """The vehicle once a step is done; a step that moves nothing leaves it as it was."""
    if step.amount is None:
        return vehicle
    axle = vehicle.axle(step.axle)
    moved = WORK[step.action.value](job, axle, step)
    return replace(vehicle, axles=[moved if a is axle else a for a in vehicle.axles])


def size(step: PlanStep) -> float:
    """The amount of a step in metres or radians."""
    unit = step.amount.unit.value
    if unit == "deg":
        return math.radians(step.amount.value)
    return step.amount.value * METRES[unit]


def _centre(job: Job, axle: Axle, step: PlanStep) -> Axle:
    way = {"right": 1, "left": -1}[step.direction.value]
    return replace(axle, offset=axle.offset + way * size(step))


def _turn(job: Job, axle: Axle, step: PlanStep) -> Axle:
    spread = spread_of(job, axle, step)
    left, right = axle.beam_end(-1, spread), axle.beam_end(1, spread)
    ahead = {"forward": 1, "rearward": -1}[step.direction.value] * size(step)
    if step.ends.value == BOTH:
        left, right = _both(axle.centre, spread, left, step.side.value, ahead)
    elif step.ends.value == "left_end":
        assert step.side.value == "left"
        left = _swung(right, left[0] + ahead, spread, -1)
    else:
        assert step.side.value == "right"
        right = _swung(left, right[0] + ahead, spread, 1)
    return _stands_on(axle, left, right)


def _both(
    centre: Point, spread: float, left: Point, side: str, ahead: float
) -> tuple[Point, Point]:
    """Both ends about a centre that stays, the end of `side` going ahead."""
    of_left = ahead if side == "left" else -ahead
    moved = _swung(centre, left[0] + of_left, spread / 2, -1)
    return moved, (2 * centre[0] - moved[0], 2 * centre[1] - moved[1])


def _swung(held: Point, x: float, length: float, side: int) -> Point:
    """The point of a circle about a held point that lies at `x`, on its left or its right."""
    return (x, held[1] + side * math.sqrt(length * length - (x - held[0]) ** 2))


def _stands_on(axle: Axle, left: Point, right: Point) -> Axle:
    """The axle with its beam between two points; wheels that don't steer turn with it."""
    heading = math.atan2(left[0] - right[0], right[1] - left[1])
    centre = ((left[0] + right[0]) / 2, (left[1] + right[1]) / 2)
    turned = {"skew": heading} if axle.role == "steer" else {"thrust": heading}
    return replace(axle, distance=-centre[0], offset=centre[1], **turned)


def _wedge(job: Job, axle: Axle, step: PlanStep) -> Axle:
    way = {"rearward": 1, "forward": -1}[step.direction.value]
    side = step.side.value
    wheel = getattr(axle, side)
    more = way * size(step)
    moved = replace(wheel, wedge=wheel.wedge + more, caster=wheel.caster + more)
    return replace(axle, **{side: moved})


def _toe(job: Job, axle: Axle, step: PlanStep) -> Axle:
    way = {"in": 1, "out": -1}[step.direction.value]
    change = size(step)
    if step.turns is not None:
        rod = next(a for a in job.adjusters[axle.number] if a.kind == "tie_rod")
        ends = {"both_hands": 2, "one_hand": 1}[rod.threads]
        # The rod grows by its threads' advance, and each arm swings by its share of that.
        assert change == pytest.approx(step.turns * rod.pitch * ends / rod.arm, abs=1e-11)
    return replace(axle, toe=axle.toe + way * change)


WORK = {
    "centre": _centre,
    "aim": _turn,
    "square": _turn,
    "match_wedges": _wedge,
    "set_toe": _toe,
}


def spread_of(job: Job, axle: Axle, step: PlanStep) -> float:
    """Between which points the amount of a step is stated: told, else read, else the axle ends."""
    adjuster = adjuster_of(job, step)
    if adjuster is not None and adjuster.spread is not None:
        return adjuster.spread
    for item in job.items:
        spanned = (item.get("axle"), item.get("front_axle"), item.get("rear_axle"))
        if "spread" in item and axle.number in spanned:
            return float(item["spread"])
    return AXLE_ENDS


def adjuster_of(job: Job, step: PlanStep) -> Adjuster | None:
    """The adjuster that a step turns, None where the axle describes none."""
    kind = {"centre": "lateral", "match_wedges": "wedge", "set_toe": "tie_rod"}.get(
        step.action.value, LONGITUDINAL
    )
    for adjuster in job.adjusters.get(step.axle, ()):
        ends = step.ends is None or adjuster.ends == step.ends.value
        if adjuster.kind == kind and ends:
            return adjuster
    return None
