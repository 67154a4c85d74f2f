"""Straight running of a solved vehicle, for a float, an array or a symbol in place of numbers.

The equilibrium of `running.py` on a level road with usual axle loads, where it is a sum of gain
times thrust for each axle: the same formulas, without what only a road, a load or a measured
stiffness asks for, and with the uncertainty that the aims give it.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from service.geometry.least_squares import variance_of
from service.geometry.numbers import Functions, Number
from service.geometry.pattern import Pattern
from service.geometry.tyre_stiffness import stiffness_of_load, usual_loads

SAME_PLACE = 1e-6
"""Axles within a micrometre, in metres, stand in one place."""

SINGULAR = 1e-9
"""Turning the steered axles turns the vehicle if their moment has more than this share of all."""


class Course(NamedTuple):
    """What the pattern settles of straight running, axle by axle.

    `slopes`: unknown of the axle's aim, None of the one that the driver aims. `distances`: places
    among the numbers.
    """

    stiffness: list[float]
    steered: list[bool]
    distances: list[int]
    slopes: list[int | None]
    towed: bool


class Run(NamedTuple):
    """Straight running: angles and standard uncertainties in radians.

    `crab`: heading of the frame against its path. `turn`: of the front wheels from where they
    stand with the steering wheel centred; 0 of a towed vehicle. `slips`: of each axle's wheels
    against the path, `sines` those of the slips. There is none unless `firmness` is above 1.
    """

    firmness: Number
    crab: Number
    crab_u: Number
    turn: Number
    turn_u: Number
    slips: list[Number]
    sines: list[Number]


def course_of(pattern: Pattern) -> Course | None:
    """The course of a pattern, None where an aim that matters is not told or nothing steers it."""
    if "course" not in pattern.kept:
        pattern.kept["course"] = _course(pattern)
    course: Course | None = pattern.kept["course"]
    return course


def _course(pattern: Pattern) -> Course | None:
    axles = pattern.shape.axles
    steered = [axle[2] for axle in axles]
    if all(steered) or any(steered) == pattern.shape.towed:
        return None
    aimed = {quantity.axle for quantity in pattern.quantities if quantity.name == "thrust"}
    driven = None if pattern.shape.towed else axles[steered.index(True)][0]
    slopes: list[int | None] = []
    for number, *_ in axles:
        if number != driven and number not in aimed:
            return None
        slopes.append(None if number == driven else pattern.unknown_of["slope", number])
    return Course(
        [stiffness_of_load(load) for load in usual_loads(steered)],
        steered,
        [pattern.distance_of[axle[0]] for axle in axles],
        slopes,
        pattern.shape.towed,
    )


def run(
    pattern: Pattern,
    course: Course,
    numbers: Sequence[Number],
    unknowns: Sequence[Number],
    factors: Sequence[list[list[Number]]],
    f: Functions,
) -> Run:
    """How a solved vehicle runs. ArithmeticError where nothing at all holds it straight."""
    firmness, by_crab, by_turn = _gains(course, [numbers[at] for at in course.distances])
    aims = [0.0 if at is None else f.atan(unknowns[at]) for at in course.slopes]
    rates = [1.0 if at is None else 1 / (1 + unknowns[at] * unknowns[at]) for at in course.slopes]

    def total(gains: Sequence[Number]) -> tuple[Number, Number]:
        value: Number = 0.0
        gradient = []
        for gain, at, aim, rate in zip(gains, course.slopes, aims, rates, strict=True):
            if at is not None:
                value = value + gain * aim
                gradient.append((at, gain * rate))
        return value, f.sqrt(variance_of(pattern, factors, gradient))

    crab, crab_u = total(by_crab)
    turn, turn_u = (0.0, 0.0) if course.towed else total(by_turn)
    slips = [
        crab + aim + turn if steers else crab + aim
        for aim, steers in zip(aims, course.steered, strict=True)
    ]
    return Run(firmness, crab, crab_u, turn, turn_u, slips, [f.sin(slip) for slip in slips])


def _gains(
    course: Course, distances: Sequence[Number]
) -> tuple[Number, list[Number], list[Number]]:
    """Firmness, and radians of crab and of turn for one radian of each axle's thrust."""
    stiffness, total = course.stiffness, sum(course.stiffness)
    moment: Number = 0.0
    for push, distance in zip(stiffness, distances, strict=True):
        moment = moment + push * distance
    if course.towed:
        crab = [-push * at / moment for push, at in zip(stiffness, distances, strict=True)]
        return abs(moment / total) / SAME_PLACE, crab, []
    centre = moment / total
    places = [distance - centre for distance in distances]
    steered_stiffness: float = 0.0
    steered_moment: Number = 0.0
    scale: Number = 0.0
    for push, place, steers in zip(stiffness, places, course.steered, strict=True):
        scale = scale + push * abs(place)
        if steers:
            steered_stiffness += push
            steered_moment = steered_moment + push * place
    turn = [-push * place / steered_moment for push, place in zip(stiffness, places, strict=True)]
    crab = [
        -(push + steered_stiffness * gain) / total
        for push, gain in zip(stiffness, turn, strict=True)
    ]
    return abs(steered_moment) / (scale * SINGULAR), crab, turn


def apart(course: Course, numbers: Sequence[float]) -> bool:
    """Whether every axle stands in a place of its own, as far as tyres can tell."""
    return all(
        numbers[rear] - numbers[front] > SAME_PLACE for front, rear in pairwise(course.distances)
    )
