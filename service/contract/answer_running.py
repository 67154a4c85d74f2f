"""Writes how a solved vehicle runs straight."""

from service.contract.answer_estimates import COVERAGE, RADIAN, Scale, clean
from service.contract.estimates import Basis, Estimate, EstimateUnit
from service.contract.running import AxleRun, Hold, HoldSide, Running
from service.contract.solution import SolutionRequest
from service.geometry.solve import Solved
from service.geometry.wording import estimate_words

FEET_PER_MILE = 5280.0
METRES_PER_KILOMETRE = 1000.0

WHEEL_FREE, STEER_FREE = 0.05, 0.005
"""What a display would write as zero is no hold: degrees of steering wheel and of front wheels."""


def running_of(request: SolutionRequest, solved: Solved, scale: Scale) -> Running | None:
    """Straight running of a solved vehicle; None where an aim that matters is not told."""
    if solved.run is None:
        return None
    _, crab, crab_u, turn, turn_u, slips, sines = solved.run
    pattern = solved.pattern
    basis = Basis.PARTLY_ASSUMED if pattern.assumed else Basis.MEASURED
    steer = wheel = held = None
    if not pattern.shape.towed:
        steer = _estimate(turn, turn_u, basis, scale)
        ratio = request.steering_ratio
        if ratio is not None:
            wheel = _estimate(turn * ratio, turn_u * ratio, basis, scale)
        held = hold_of(steer, wheel)
    return Running(
        crab=_estimate(crab, crab_u, basis, scale),
        steer=steer,
        steering_wheel=wheel,
        hold=held,
        axles=[
            AxleRun(axle[0], slip * RADIAN, sine * FEET_PER_MILE, sine * METRES_PER_KILOMETRE)
            for axle, slip, sine in zip(pattern.shape.axles, slips, sines, strict=True)
        ],
    )


def _estimate(value: float, u: float, basis: Basis, scale: Scale) -> Estimate:
    return Estimate(
        clean(value * RADIAN),
        EstimateUnit.DEGREE,
        COVERAGE * RADIAN * u,
        basis,
        estimate_words("thrust", value, scale.unit, scale.denominator) if scale.text else "",
    )


def hold_of(steer: Estimate, wheel: Estimate | None) -> Hold:
    """What the driver does."""
    told = steer if wheel is None else wheel
    by_wheel = wheel is not None
    return held(side_of(told.value, by_wheel), told.text, by_wheel)


def side_of(degrees: float, by_wheel: bool) -> HoldSide:
    """The side that the steering wheel is held to, by its turn or by that of the front wheels."""
    if abs(degrees) < (WHEEL_FREE if by_wheel else STEER_FREE):
        return HoldSide.NONE
    return HoldSide.RIGHT if degrees > 0 else HoldSide.LEFT


def held(side: HoldSide, text: str, by_wheel: bool) -> Hold:
    """The hold by the words of that turn, empty where no texts are wanted."""
    if side is HoldSide.NONE:
        return Hold(side=side, text=text and "No hold needed.")
    what = "steering wheel" if by_wheel else "front wheels"
    size = text.partition(" ")[0]
    return Hold(side=side, text=size and f"The driver holds the {what} {size} to the {side}.")
