"""Turns a straight-running request into axles on a road, or refuses it with all its faults."""

from typing import NamedTuple

from service.contract.intake_bench import STEEPEST
from service.contract.intake_errors import FaultError, refuse, unreadable
from service.contract.intake_road import NEWTONS, road_of
from service.contract.intake_vehicle import vehicle_of
from service.contract.problem_catalogue import CONTRACT_BROKEN, READING_IMPOSSIBLE
from service.contract.problems import FieldError
from service.contract.straight_runnings import (
    LoadedAxle,
    StraightRunningRequest,
    TyreConstruction,
)
from service.contract.vehicle import Axle as WireAxle
from service.contract.vehicle import Vehicle as WireVehicle
from service.geometry.angle_text import parse_angle
from service.geometry.quantity import QuantityError
from service.geometry.running import Road
from service.geometry.stance import RunningAxle
from service.geometry.tyre_stiffness import (
    BIAS_PER_DEGREE,
    RADIAL_PER_DEGREE,
    stiffness_of_load,
    usual_loads,
)
from service.geometry.vehicle import STEERED_ROLES, Vehicle

PER_DEGREE = {
    TyreConstruction.RADIAL: RADIAL_PER_DEGREE,
    TyreConstruction.BIAS: BIAS_PER_DEGREE,
}


class RunningIntake(NamedTuple):
    """A request in SI units.

    `hitch` is 0 for a towed vehicle and else None. `in_newtons`: whether stiffnesses are real
    ones; if not they only weigh the axles against each other. `from_loads`: whether any comes
    from its axle's load. `weighed`: whether weight and its place were summed from axle loads.
    """

    axles: list[RunningAxle]
    hitch: float | None
    road: Road
    steering_ratio: float | None
    per_degree: float
    in_newtons: bool
    from_loads: bool
    weighed: bool


def running_intake_of(request: StraightRunningRequest) -> RunningIntake:
    """Read a request. Raises ProblemError that names every fault found in it."""
    errors: list[FieldError] = []
    vehicle = vehicle_of(_as_vehicle(request), request.length_unit.value, errors)
    refuse(errors)
    wires = request.vehicle.axles
    steered = [_steers(wire) for wire in wires]
    _check_steering(request, vehicle, steered, errors)
    _check_units(request, errors)
    in_newtons = _check_stiffness(wires, errors)
    thrusts = [
        _thrust(wire, place, errors, spared=place == _first(steered))
        for place, wire in enumerate(wires)
    ]
    road, weighed = road_of(request, vehicle, in_newtons, errors)
    refuse(errors)
    per_degree = request.stiffness_per_degree or PER_DEGREE[request.tyres]
    stiffness = _stiffness(request, steered, in_newtons, per_degree)
    axles = [
        RunningAxle(axle.number, axle.distance, thrust, push, steers, _ratio(wire))
        for axle, thrust, push, steers, wire in zip(
            vehicle.axles, thrusts, stiffness, steered, wires, strict=True
        )
    ]
    return RunningIntake(
        axles=axles,
        hitch=0.0 if vehicle.towed else None,
        road=road,
        steering_ratio=request.steering_ratio,
        per_degree=per_degree,
        in_newtons=in_newtons,
        from_loads=in_newtons and any(wire.cornering_stiffness is None for wire in wires),
        weighed=weighed,
    )


def _as_vehicle(request: StraightRunningRequest) -> WireVehicle:
    return WireVehicle(
        unit=request.vehicle.unit,
        axles=[
            WireAxle(number=axle.number, role=axle.role, distance=axle.distance)
            for axle in request.vehicle.axles
        ],
    )


def _steers(wire: LoadedAxle) -> bool:
    return wire.role.value in STEERED_ROLES if wire.steered is None else wire.steered


def _ratio(wire: LoadedAxle) -> float:
    return 1.0 if wire.steer_ratio is None else wire.steer_ratio


def _first(steered: list[bool]) -> int | None:
    return steered.index(True) if True in steered else None


def _check_steering(
    request: StraightRunningRequest,
    vehicle: Vehicle,
    steered: list[bool],
    errors: list[FieldError],
) -> None:
    if not vehicle.towed and not any(steered):
        errors.append(
            FaultError(
                CONTRACT_BROKEN,
                "axles",
                f"no axle of the {vehicle.kind} steers",
                "Give the steer axle the role steer, or the axle that steers `steered` true.",
            ).at("vehicle")
        )
    for place, (wire, steers) in enumerate(zip(request.vehicle.axles, steered, strict=True)):
        fault = None
        if steers and vehicle.towed:
            fault = FaultError(
                CONTRACT_BROKEN,
                "role" if wire.steered is None else "steered",
                f"axle {wire.number} of a {vehicle.kind} steers, and nobody sits at its wheel",
                "Give a towed axle another role; one that casters has cornering stiffness 0.",
            )
        elif wire.steer_ratio is not None and not steers:
            fault = FaultError(
                CONTRACT_BROKEN,
                "steer_ratio",
                f"axle {wire.number} does not steer and has a steer ratio",
                "Leave `steer_ratio` out, or set `steered` to true.",
            )
        elif wire.steer_ratio is not None and place == _first(steered) and _ratio(wire) != 1.0:
            fault = FaultError(
                CONTRACT_BROKEN,
                "steer_ratio",
                f"axle {wire.number} is the first that steers, which the ratios are counted from",
                "Leave its `steer_ratio` out; give the other steered axles theirs.",
            )
        if fault is not None:
            errors.append(fault.at("vehicle", "axles", place))


def _check_units(request: StraightRunningRequest, errors: list[FieldError]) -> None:
    weights = [request.weight, request.hitch_load]
    for axle in request.vehicle.axles:
        weights += [axle.load, axle.cornering_stiffness]
    if request.load_unit is None and any(weight is not None for weight in weights):
        hint = "Write `load_unit` kg or lb: the unit of every load, weight and stiffness."
        fault = FaultError(CONTRACT_BROKEN, "load_unit", "loads have no unit", hint)
        errors.append(fault.at())
    if request.speed is not None and request.speed_unit is None:
        hint = "Write `speed_unit` km/h or mph."
        errors.append(FaultError(CONTRACT_BROKEN, "speed_unit", "the speed has no unit", hint).at())


def _check_stiffness(wires: list[LoadedAxle], errors: list[FieldError]) -> bool:
    """Whether every axle has a stiffness of its own; it is a fault when only some have."""
    bare = [
        place
        for place, wire in enumerate(wires)
        if wire.load is None and wire.cornering_stiffness is None
    ]
    if len(bare) < len(wires):
        errors += [
            FaultError(
                CONTRACT_BROKEN,
                "load",
                f"axle {wires[place].number} has no load, and others have one",
                "Give the load or the cornering stiffness of every axle, or of none.",
            ).at("vehicle", "axles", place)
            for place in bare
        ]
    return not bare


def _thrust(
    wire: LoadedAxle, place: int, errors: list[FieldError], *, spared: bool
) -> float | None:
    try:
        if wire.thrust is None:
            if spared:
                return None
            raise FaultError(
                CONTRACT_BROKEN,
                "thrust",
                f"the thrust of axle {wire.number} is missing",
                "Give the aim of every axle but the first steered one: 0 when it is straight.",
            )
        thrust = parse_angle(wire.thrust)
        if abs(thrust) > STEEPEST:
            raise FaultError(
                READING_IMPOSSIBLE,
                "thrust",
                f"a thrust of {wire.thrust!r} is beyond 45 degrees",
                "Write the angle in degrees, such as 0.1 or -0°6'.",
            )
    except QuantityError as error:
        errors.append(unreadable(error, "vehicle", "axles", place, "thrust"))
    except FaultError as fault:
        errors.append(fault.at("vehicle", "axles", place))
    else:
        return thrust
    return None


def _stiffness(
    request: StraightRunningRequest, steered: list[bool], in_newtons: bool, per_degree: float
) -> list[float]:
    if not in_newtons or request.load_unit is None:
        return [stiffness_of_load(load, per_degree) for load in usual_loads(steered)]
    newtons = NEWTONS[request.load_unit]
    return [
        stiffness_of_load((wire.load or 0.0) * newtons, per_degree)
        if wire.cornering_stiffness is None
        else stiffness_of_load(wire.cornering_stiffness * newtons, 1.0)
        for wire in request.vehicle.axles
    ]
