"""Writes how a vehicle runs straight, and what the figures rest on."""

from math import isfinite, pi, radians

from service.contract.answer import ENGINE
from service.contract.answer_figures import Figures
from service.contract.figures import Figure, FigureUnit
from service.contract.intake_bench import STEEPEST
from service.contract.intake_straight_running import RunningIntake
from service.contract.problem_catalogue import NO_EQUILIBRIUM
from service.contract.problems import ProblemError, field_error, pointer_to
from service.contract.running import Hold, HoldSide
from service.contract.solution import Caution
from service.contract.straight_runnings import (
    AxleOnRoad,
    LoadUnit,
    RunningAssumption,
    StraightRunningAnswer,
    StraightRunningRequest,
    TyreConstruction,
)
from service.geometry.running import AxleRunning, StraightRunning, hold, straight_running
from service.geometry.stance import RunningError
from service.geometry.tyre_stiffness import POUND_FORCE

FOOT = 0.3048
LINEAR_UPTO = radians(3)
"""Slip up to which a tyre's side force is taken to grow evenly (textbook rule, from memory)."""

_PULL_UNITS = {
    LoadUnit.POUND: (FigureUnit.POUND_FORCE, FigureUnit.POUND_FORCE_PER_DEGREE, POUND_FORCE),
    LoadUnit.KILOGRAM: (FigureUnit.NEWTON, FigureUnit.NEWTON_PER_DEGREE, 1.0),
}
_SHARE_SOURCES = {
    TyreConstruction.RADIAL: "Gillespie, Fundamentals of Vehicle Dynamics, second hand: about "
    "15 %, range 11 to 19 %; heavy-truck radials 14 to 19 % when new (from memory).",
    TyreConstruction.BIAS: "Gillespie, Fundamentals of Vehicle Dynamics, second hand: about "
    "12 %, range 8 to 18 %.",
}


def running_answer(request: StraightRunningRequest, intake: RunningIntake) -> StraightRunningAnswer:
    """Solve a request that was read and write its answer; ProblemError where nothing holds."""
    try:
        running = straight_running(
            intake.axles,
            hitch=intake.hitch,
            road=intake.road,
            steering_ratio=intake.steering_ratio,
        )
    except (RunningError, ArithmeticError) as error:
        raise _unsteady(str(error) if isinstance(error, RunningError) else "") from error
    if not all(isfinite(run.slip) and abs(run.slip) <= STEEPEST for run in running.axles):
        raise _unsteady("the tyres would have to slip by more than 45 degrees")
    return _written(request, intake, running)


def _unsteady(reason: str) -> ProblemError:
    detail = reason or "the stiffnesses are too far apart to reckon with"
    error = field_error(
        NO_EQUILIBRIUM,
        pointer_to("vehicle", "axles"),
        detail,
        "Check distances, loads, stiffnesses and the cross-slope.",
    )
    return ProblemError(NO_EQUILIBRIUM, f"The vehicle cannot run straight: {detail}.", [error])


def _written(
    request: StraightRunningRequest, intake: RunningIntake, running: StraightRunning
) -> StraightRunningAnswer:
    figures = Figures(request.text)
    held = None if running.turn is None else _hold(running, figures)
    crab = figures.angle(running.crab)
    return StraightRunningAnswer(
        engine=ENGINE,
        crab=crab,
        steer=_angle(running.steer, figures),
        turn=_angle(running.turn, figures),
        steering_wheel=_angle(running.steering_wheel, figures, 1),
        hold=held,
        hitch_force=_force(running.hitch_force, request, intake, figures),
        drag_force=_force(running.drag_force, request, intake, figures, sided=False),
        drag_power=_power(running.drag_power, intake, figures),
        equivalent_wheelbase=None
        if running.equivalent_wheelbase is None
        else figures.length(running.equivalent_wheelbase, request.length_unit),
        axles=[
            _axle(place, run, request, intake, figures) for place, run in enumerate(running.axles)
        ],
        assumptions=_assumptions(request, intake) if request.text else [],
        cautions=_cautions(running),
        text=_summary(crab, held) if request.text else "",
    )


def _angle(value: float | None, figures: Figures, decimals: int = 2) -> Figure | None:
    return None if value is None else figures.angle(value, decimals)


def _force(
    newtons: float | None,
    request: StraightRunningRequest,
    intake: RunningIntake,
    figures: Figures,
    *,
    sided: bool = True,
) -> Figure | None:
    if newtons is None or not intake.in_newtons or request.load_unit is None:
        return None
    unit, _, size = _PULL_UNITS[request.load_unit]
    return (figures.sided if sided else figures.plain)(newtons / size, unit, 1)


def _power(watts: float | None, intake: RunningIntake, figures: Figures) -> Figure | None:
    if watts is None or not intake.in_newtons:
        return None
    return figures.plain(watts, FigureUnit.WATT, 0)


def _axle(
    place: int,
    run: AxleRunning,
    request: StraightRunningRequest,
    intake: RunningIntake,
    figures: Figures,
) -> AxleOnRoad:
    axle = intake.axles[place]
    stiffness = None
    if intake.in_newtons and request.load_unit is not None:
        _, unit, size = _PULL_UNITS[request.load_unit]
        stiffness = figures.plain(axle.stiffness * pi / 180 / size, unit, 0)
    return AxleOnRoad(
        number=axle.number,
        role=request.vehicle.axles[place].role,
        steered=axle.steered,
        aim=figures.angle(run.aim),
        slip=figures.angle(run.slip, 3),
        side_force=_force(run.side_force, request, intake, figures),
        sideways_per_mile=figures.sided(run.per_mile / FOOT, FigureUnit.FOOT_PER_MILE, 1),
        sideways_per_kilometre=figures.sided(run.per_kilometre, FigureUnit.METRE_PER_KILOMETRE, 2),
        drag_power=_power(run.drag_power, intake, figures),
        cornering_stiffness=stiffness,
    )


def _hold(running: StraightRunning, figures: Figures) -> Hold:
    side = hold(running)
    if not figures.text:
        return Hold(side=HoldSide(side), text="")
    if side == "none":
        return Hold(side=HoldSide.NONE, text="No hold needed.")
    what, angle, decimals = "steering wheel", running.steering_wheel, 1
    if angle is None:
        what, angle, decimals = "front wheels", running.turn, 2
    size = figures.angle(abs(angle or 0.0), decimals).text.removesuffix(" right")
    return Hold(side=HoldSide(side), text=f"The driver holds the {what} {size} to the {side}.")


def _summary(crab: Figure, held: Hold | None) -> str:
    nose = crab.text.replace("°", "° to the") if crab.text.endswith(("left", "right")) else ""
    frame = f"The frame points {nose} of its path." if nose else "The frame runs true."
    return f"{frame} {held.text}" if held is not None else frame


def _assumptions(request: StraightRunningRequest, intake: RunningIntake) -> list[RunningAssumption]:
    found = []
    if not intake.in_newtons:
        found.append(
            RunningAssumption(
                id="usual-loads",
                text="No load was given: 12 000 lb on a steered axle, 17 000 lb on each of several "
                "others or 20 000 lb on a lone one weigh the axles against each other. "
                "They are good for angles; no force is answered.",
                source="Steered axle: common practice, no source. Others: 23 CFR 658.17, 34 000 lb "
                "on a tandem and 20 000 lb on an axle (from memory).",
            )
        )
    if intake.from_loads:
        given = request.stiffness_per_degree is not None
        found.append(
            RunningAssumption(
                id="stiffness-of-load",
                text=f"At one degree of slip an axle pushes with {intake.per_degree:.3g} of its "
                "load. Forces, and what a cross-slope adds to the angles, are as rough as this; "
                "the other angles depend on ratios only.",
                source="As given in `stiffness_per_degree`."
                if given
                else _SHARE_SOURCES[request.tyres],
            )
        )
    for axle in intake.axles:
        if axle.thrust is None:
            found.append(
                RunningAssumption(
                    id=f"steered-straight-{axle.number}",
                    text=f"The aim of axle {axle.number} was not given: its turn is counted from "
                    "its wheels standing straight in the frame.",
                    source="The driver aims it; its own reading does not matter for the rest.",
                )
            )
    if intake.weighed:
        found.append(
            RunningAssumption(
                id="weight-of-loads",
                text="Weight or its place, where not given, was taken from the axle loads.",
                source="Statics on level ground.",
            )
        )
    return found


def _cautions(running: StraightRunning) -> list[Caution]:
    return [
        Caution(
            code="slip-beyond-linear",
            pointer=pointer_to("vehicle", "axles", place),
            text=f"Axle {run.number} slips by more than 3 degrees, where a tyre's side force no "
            "longer grows evenly: the true angles are larger. Check the aims first.",
        )
        for place, run in enumerate(running.axles)
        if abs(run.slip) > LINEAR_UPTO
    ]
