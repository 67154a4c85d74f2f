"""Writes how a solved vehicle runs straight."""

import math
from collections.abc import Sequence

from service.contract.answer_estimates import COVERAGE, RADIAN, Scale, clean
from service.contract.estimates import Basis, Estimate, EstimateUnit
from service.contract.running import AxleRun, Hold, HoldSide, Running
from service.contract.solution import SolutionRequest
from service.geometry.pattern import Pattern
from service.geometry.running import gains
from service.geometry.solve import Solved, variance_of
from service.geometry.stance import RunningAxle, RunningError
from service.geometry.tyre_stiffness import stiffness_of_load, usual_loads
from service.geometry.wording import estimate_words

FEET_PER_MILE = 5280


def running_of(request: SolutionRequest, solved: Solved, scale: Scale) -> Running | None:
    """Straight running of a solved vehicle; None where an aim that matters is not told."""
    if not _told(solved.pattern):
        return None
    axles = _axles(solved)
    try:
        by_thrust = gains(axles, hitch=0.0 if solved.pattern.shape.towed else None)
    except RunningError:
        return None
    crab = _estimate(solved, axles, by_thrust.crab, 1.0, scale)
    steer = wheel = held = None
    if by_thrust.turn is not None:
        steer = _estimate(solved, axles, by_thrust.turn, 1.0, scale)
        if request.steering_ratio is not None:
            wheel = _estimate(solved, axles, by_thrust.turn, request.steering_ratio, scale)
        held = _held(steer, wheel)
    turn = 0.0 if steer is None else steer.value
    return Running(
        crab=crab,
        steer=steer,
        steering_wheel=wheel,
        hold=held,
        axles=[_axle(axle, crab.value, turn) for axle in axles],
    )


def _axle(axle: RunningAxle, crab: float, turn: float) -> AxleRun:
    """One axle on the road, crab and turn in degrees."""
    slip = crab + (axle.thrust or 0.0) * RADIAN + (turn if axle.steered else 0.0)
    share = math.sin(slip / RADIAN)
    return AxleRun(axle.number, slip, share * FEET_PER_MILE, share * 1000)


def _held(steer: Estimate, wheel: Estimate | None) -> Hold:
    """What the driver does; what a display would write as zero is no hold."""
    told = wheel or steer
    what, free = ("steering wheel", 0.05) if wheel is not None else ("front wheels", 0.005)
    if abs(told.value) < free:
        return Hold(side=HoldSide.NONE, text=told.text and "No hold needed.")
    side = HoldSide.RIGHT if told.value > 0 else HoldSide.LEFT
    size = told.text.partition(" ")[0]
    return Hold(side=side, text=size and f"The driver holds the {what} {size} to the {side}.")


def _told(pattern: Pattern) -> bool:
    """Whether the aim of every axle but the first steered one is told."""
    told: bool | None = pattern.kept.get("running told")
    if told is None:
        known = {q.axle for q in pattern.quantities if q.name == "thrust"}
        steered = [axle[0] for axle in pattern.shape.axles if axle[2]]
        needed = {axle[0] for axle in pattern.shape.axles} - set(steered[:1])
        told = pattern.kept["running told"] = needed <= known
    return told


def _axles(solved: Solved) -> list[RunningAxle]:
    """Every axle with its aim and a usual stiffness; the driver aims the first steered one."""
    shape = solved.pattern.shape.axles
    loads = usual_loads([axle[2] for axle in shape])
    found, driven = [], False
    for (number, _, steered, *_), load in zip(shape, loads, strict=True):
        place = solved.pattern.unknown_of.get(("slope", number))
        thrust = None if place is None else math.atan(solved.unknowns[place])
        if steered and not driven:
            thrust, driven = None, True
        distance = solved.numbers[solved.pattern.distance_of[number]]
        found.append(RunningAxle(number, distance, thrust, stiffness_of_load(load), steered))
    return found


def _estimate(
    solved: Solved,
    axles: Sequence[RunningAxle],
    by_thrust: Sequence[float],
    ratio: float,
    scale: Scale,
) -> Estimate:
    """A sum of gain times thrust, times `ratio`, with the uncertainty that the thrusts give it."""
    value = 0.0
    gradient = []
    for gain, axle in zip(by_thrust, axles, strict=True):
        place = solved.pattern.unknown_of.get(("slope", axle.number))
        if place is not None and axle.thrust is not None:
            value += gain * axle.thrust
            slope = solved.unknowns[place]
            gradient.append((place, gain / (1 + slope * slope)))
    assumed = bool(solved.pattern.assumed)
    words = ""
    if scale.text:
        words = estimate_words("thrust", value * ratio, scale.unit, scale.denominator)
    return Estimate(
        clean(value * ratio * RADIAN),
        EstimateUnit.DEGREE,
        COVERAGE * ratio * math.sqrt(variance_of(solved, gradient)) * RADIAN,
        Basis.PARTLY_ASSUMED if assumed else Basis.MEASURED,
        words,
    )
