"""Reads the road of a straight-running request, and the weight that a cross-slope pulls at."""

from service.contract.intake_errors import FaultError, unreadable
from service.contract.problem_catalogue import CONTRACT_BROKEN
from service.contract.problems import FieldError
from service.contract.straight_runnings import LoadUnit, SpeedUnit, StraightRunningRequest
from service.geometry.length_text import parse_length
from service.geometry.quantity import QuantityError
from service.geometry.running import MILE, Road
from service.geometry.slope_text import parse_cross_slope
from service.geometry.tyre_stiffness import POUND_FORCE, STANDARD_GRAVITY
from service.geometry.vehicle import Vehicle

NEWTONS = {LoadUnit.KILOGRAM: STANDARD_GRAVITY, LoadUnit.POUND: POUND_FORCE}
METRES_PER_SECOND = {
    SpeedUnit.KILOMETRE_PER_HOUR: 1000 / 3600,
    SpeedUnit.MILE_PER_HOUR: MILE / 3600,
}


def road_of(
    request: StraightRunningRequest, vehicle: Vehicle, in_newtons: bool, errors: list[FieldError]
) -> tuple[Road, bool]:
    """The road, and whether the weight on it was summed from axle loads."""
    speed = None
    if request.speed is not None and request.speed_unit is not None:
        speed = request.speed * METRES_PER_SECOND[request.speed_unit]
    slope = _parsed(request, "cross_slope", errors)
    centre = _parsed(request, "centre_of_gravity", errors)
    if request.hitch_load is not None and not vehicle.towed:
        errors.append(
            FaultError(
                CONTRACT_BROKEN,
                "hitch_load",
                f"a {vehicle.kind} has no kingpin or drawbar eye of its own",
                "Leave `hitch_load` out; what rests on its fifth wheel is in its axle loads.",
            ).at()
        )
    if slope is None:
        return Road(speed=speed), False
    weight, own_centre = _weighed(request, vehicle)
    if not in_newtons:
        errors.append(_lacking("cross_slope", "a cross-slope needs stiffness in real units"))
    elif weight is None:
        errors.append(_lacking("weight", "a cross-slope needs the weight of the vehicle"))
    elif centre is None and own_centre is None and request.centre_of_gravity is None:
        detail = "a cross-slope needs to know where the weight sits"
        errors.append(_lacking("centre_of_gravity", detail))
    newtons = NEWTONS.get(request.load_unit or LoadUnit.KILOGRAM, 1.0)
    place = centre if centre is not None else own_centre or 0.0
    road = Road(slope, (weight or 0.0) * newtons, place, speed)
    return road, request.weight is None or centre is None


def _weighed(
    request: StraightRunningRequest, vehicle: Vehicle
) -> tuple[float | None, float | None]:
    """Weight as given or summed, and the place that axle and hitch loads give it."""
    loads = [wire.load for wire in request.vehicle.axles]
    known = [load for load in loads if load is not None]
    if len(known) < len(loads) or (vehicle.towed and request.hitch_load is None):
        return request.weight, None
    carried = sum(known) + (request.hitch_load or 0.0)
    moment = sum([load * axle.distance for load, axle in zip(known, vehicle.axles, strict=True)])
    return carried if request.weight is None else request.weight, moment / carried


def _lacking(field: str, detail: str) -> FieldError:
    hint = (
        "Give the load of every axle (and `hitch_load` of a towed vehicle), or `weight` and "
        "`centre_of_gravity` with the cornering stiffness of every axle."
    )
    return FaultError(CONTRACT_BROKEN, field, detail, hint).at()


def _parsed(request: StraightRunningRequest, field: str, errors: list[FieldError]) -> float | None:
    text: str | None = getattr(request, field)
    if text is None:
        return None
    try:
        if field == "cross_slope":
            return parse_cross_slope(text)
        return parse_length(text, request.length_unit.value)
    except QuantityError as error:
        errors.append(unreadable(error, field))
        return None
