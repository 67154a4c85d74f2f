"""Axles on their tyres: where a vehicle's stiffness sits, and which vehicles have no answer."""

from collections.abc import Sequence
from itertools import pairwise
from math import inf
from typing import NamedTuple

_SAME_PLACE = 1e-6
_SINGULAR = 1e-9
_LEAST_STIFFNESS = 1e-100  # below, products with a distance lose digits or vanish


class RunningError(ValueError):
    """The axles given have no straight-running equilibrium; the text says what to change.

    `axle` is the number of the axle at fault, None when it is the vehicle as a whole.
    """

    def __init__(self, text: str, axle: int | None = None) -> None:
        super().__init__(text)
        self.axle = axle


class RunningAxle(NamedTuple):
    """One axle as its tyres push.

    `thrust`: aim of its wheels against the frame, radians; of a steered axle, with the steering
    wheel centred. `stiffness`: cornering stiffness of the whole axle, newtons per radian.
    `steer_ratio`: turn of a steered axle's wheels over the turn of the first steered axle's.
    """

    number: int
    distance: float
    thrust: float | None
    stiffness: float
    steered: bool = False
    steer_ratio: float = 1.0


class Stance(NamedTuple):
    """Sums that the equilibrium is made of; places are taken from the centre of stiffness."""

    places: list[float]
    stiffness: float
    steered_stiffness: float
    steered_moment: float
    centre: float


def first_steered(axles: Sequence[RunningAxle]) -> RunningAxle | None:
    """The frontmost axle that steers as listed; the driver aims it, the others follow it."""
    for axle in axles:
        if axle.steered:
            return axle
    return None


def stance_of(axles: Sequence[RunningAxle], hitch: float | None) -> Stance:
    """The sums, after refusing every vehicle that they do not determine."""
    _check_axles(axles)
    first = first_steered(axles)
    if first is None and hitch is None:
        raise RunningError(
            "no axle steers and there is no kingpin or drawbar eye: "
            "nothing holds the vehicle straight"
        )
    if first is not None and hitch is not None:
        raise RunningError(
            f"axle {first.number} steers and there is a kingpin or drawbar eye: give one of them",
            first.number,
        )
    if first is not None and first.steer_ratio != 1.0:
        raise RunningError("the first steered axle has the steer ratio 1", first.number)
    total = moment = 0.0
    for axle in axles:
        total += axle.stiffness
        moment += axle.stiffness * axle.distance
    if total < _LEAST_STIFFNESS:
        raise RunningError("every cornering stiffness is 0: no tyre can hold the vehicle")
    centre = moment / total
    places = [a.distance - centre for a in axles]
    steered_stiffness = steered_moment = scale = 0.0
    for axle, place in zip(axles, places, strict=True):
        scale += axle.stiffness * abs(place)
        if axle.steered:
            steered_stiffness += axle.stiffness * axle.steer_ratio
            steered_moment += axle.stiffness * axle.steer_ratio * place
    if hitch is None and abs(steered_moment) <= _SINGULAR * scale:
        raise RunningError(
            "turning the steered axles does not turn the vehicle: see distances and stiffnesses"
        )
    if hitch is not None and abs(centre - hitch) <= _SAME_PLACE:
        raise RunningError("the axles stand at the kingpin or drawbar eye: nothing steadies it")
    return Stance(places, total, steered_stiffness, steered_moment, centre)


def _check_axles(axles: Sequence[RunningAxle]) -> None:
    if not axles:
        raise RunningError("there is no axle")
    ordered = True
    behind = -inf
    for axle in axles:
        if axle.stiffness < 0.0:
            raise RunningError("a cornering stiffness is never negative", axle.number)
        if axle.distance - behind <= _SAME_PLACE:
            ordered = False
        behind = axle.distance
    if ordered:
        return
    for front, rear in pairwise(sorted(axles, key=lambda axle: axle.distance)):
        if rear.distance - front.distance <= _SAME_PLACE:
            raise RunningError(
                f"axles {front.number} and {rear.number} stand in one place", rear.number
            )
