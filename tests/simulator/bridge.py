"""Simulated vehicles and readings in the solver's own types; the one place that knows both."""

from service.geometry import readings as taken
from service.geometry import vehicle as known
from service.geometry.solve import Solved, solve
from simulator.fleet import Case
from simulator.noise import SIGMA
from simulator.readings import Reading
from simulator.vehicle import Vehicle

WHEEL_ANGLES = ("toe", "camber", "caster")


def engine_vehicle(vehicle: Vehicle) -> known.Vehicle:
    """What the solver is told of a vehicle: no pose."""
    return known.Vehicle(
        vehicle.unit,
        tuple(
            known.Axle(a.number, a.role, a.distance, a.width_over_tyres, a.tyre_diameter)
            for a in vehicle.axles
        ),
    )


def engine_readings(vehicle: Vehicle, reading: Reading) -> list[taken.Reading]:
    """The solver's reading, or readings where one instrument shows several angles."""
    kind, u = reading["kind"], reading.get("uncertainty", SIGMA[reading["kind"]])
    if kind == "axle_span":
        front, rear = reading["front_axle"], reading["rear_axle"]
        ends = (reading["left"], reading["right"], reading["spread"])
        return [taken.AxleSpan(front, rear, *ends, u)]
    axle = reading["axle"]
    if kind == "wheel_angle":
        return [
            taken.WheelAngle(axle, reading["side"], angle, reading[angle], u)
            for angle in WHEEL_ANGLES
            if angle in reading
        ]
    return [_single(vehicle, reading, axle, u)]


def _single(vehicle: Vehicle, reading: Reading, axle: int, u: float) -> taken.Reading:
    kind = reading["kind"]
    if kind in ("toe_width", "toe_scale"):
        baseline = reading.get("baseline") or vehicle.axle(axle).tyre_diameter
        assert baseline is not None
        if kind == "toe_scale":
            return taken.ToeScale(axle, reading["toe"] / baseline, u / baseline, baseline)
        return taken.ToeWidth(axle, reading["front"], reading["rear"], baseline, u)
    if kind == "caster_sweep":
        cambers = (reading["camber_left_turn"], reading["camber_right_turn"])
        return taken.CasterSweep(axle, reading["side"], reading["turn"], *cambers, u)
    left, right = reading["left"], reading["right"]
    if kind == "sightline":
        reference = reading.get("reference") or (0 if vehicle.towed else 1)
        return taken.Sightline(axle, left, right, u, reading.get("rehang", 0.0), reference)
    if kind == "frame_gap":
        return taken.FrameGap(axle, left, right, u)
    if kind == "wedge":
        sign = {"rear": 1.0, "front": -1.0}
        left *= sign[reading["left_thick_end"]]
        right *= sign[reading["right_thick_end"]]
        return taken.Wedge(axle, left, right, u)
    tape = taken.SetbackSpan if kind == "setback_span" else taken.KingpinSpan
    return tape(axle, left, right, reading["spread"], u)


def solved_readings(vehicle: Vehicle, readings: list[Reading], **options: float) -> Solved:
    """The solver's answer to these readings of a vehicle."""
    given = [part for reading in readings for part in engine_readings(vehicle, reading)]
    return solve(engine_vehicle(vehicle), given, **options)


def solved_case(case: Case, **options: float) -> Solved:
    """The solver's answer to a case."""
    return solved_readings(case.vehicle, case.readings, **options)


def answers(solution: Solved) -> dict[tuple[str, int], tuple[float, float]]:
    """Value and standard uncertainty of every quantity that the solver tells."""
    return {
        (q.name, q.axle): (value, u)
        for q, value, u in zip(
            solution.pattern.quantities, solution.values, solution.uncertainties, strict=True
        )
    }
