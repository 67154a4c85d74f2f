"""Writes a solution: axles, pairs, findings, and what they rest on."""

from typing import NamedTuple

from service import __version__
from service.contract.answer_cautions import cautions_of
from service.contract.answer_estimates import Scale, clean, estimates_of, scale_of
from service.contract.answer_findings import findings_of
from service.contract.answer_geometry import axles_of, pairs_of, told_of
from service.contract.answer_plan import planned
from service.contract.answer_running import running_of
from service.contract.intake import Intake, intake_of
from service.contract.problem_catalogue import READING_IMPOSSIBLE
from service.contract.problems import ProblemError, field_error, pointer_to
from service.contract.solution import (
    Assumption,
    Prediction,
    Solution,
    SolutionRequest,
    Suspect,
)
from service.contract.target_sets import Quantity
from service.geometry.careful import SolveError
from service.geometry.findings import Finding as Judged
from service.geometry.findings import Judgement, judge, judgements_of
from service.geometry.pattern import Pattern
from service.geometry.planning.plan import Plan
from service.geometry.residuals import suspects
from service.geometry.solve import Solved, solve_numbers

ENGINE = f"axlewright {__version__}"


class Worked(NamedTuple):
    """A request that was read, solved and judged, before anything is written."""

    intake: Intake
    solved: Solved
    todo: list[Judgement]
    findings: list[Judged]

    @property
    def kept_as(self) -> str | None:
        """Name of a built-in target set, whose texts are kept from vehicle to vehicle."""
        return self.intake.targets.id if self.intake.built_in else None


def answer(request: SolutionRequest) -> Solution:
    """Read, solve and answer a request.

    Raises ProblemError that names everything wrong with it.
    """
    return write(request, work(intake_of(request)))


def work(intake: Intake) -> Worked:
    """Solve and judge; raises ProblemError where the readings fit no vehicle at all."""
    try:
        solved = solve_numbers(*intake.numbered)
    except (SolveError, ArithmeticError) as error:
        raise _unsolvable() from error
    return judged(intake, solved)


def judged(intake: Intake, solved: Solved) -> Worked:
    """Judge a vehicle whose geometry is solved."""
    todo = judgements_of(solved.pattern, intake.targets, intake.built_in)
    return Worked(intake, solved, todo, judge(solved, todo, intake.targets.decision_rule))


def write(request: SolutionRequest, worked: Worked) -> Solution:
    """Write the answer to a request that is worked out."""
    intake, solved, todo, found = worked
    scale = scale_of(request.length_unit, request.fraction, request.text)
    pattern, estimates = solved.pattern, estimates_of(solved, scale)
    told = told_of(solved, estimates, scale)
    kept_as = worked.kept_as
    plan = planned(request, intake, solved, found, todo, scale) if request.plan else None
    return Solution(
        engine=ENGINE,
        length_unit=request.length_unit,
        target_set=kept_as,
        axles=axles_of(pattern, told),
        pairs=pairs_of(pattern, told),
        findings=findings_of(found, todo, pattern, estimates, scale, kept_as),
        plan=[] if plan is None else plan.steps,
        prediction=None if plan is None else _prediction(plan.plan, todo, scale, kept_as),
        remaining=[] if plan is None else plan.remaining,
        running=running_of(request, solved, scale) if request.running else None,
        assumptions=assumptions_of(pattern, intake.centring_uncertainty, scale),
        suspects=suspects_of(solved, intake, scale) if solved.doubtful else [],
        cautions=cautions_of(request, intake, solved, scale),
    )


def _prediction(
    plan: Plan, todo: list[Judgement], scale: Scale, kept_as: str | None
) -> Prediction | None:
    if plan.predicted is None or plan.findings is None or not plan.moves:
        return None
    solved, pattern = plan.predicted, plan.predicted.pattern
    estimates = estimates_of(solved, scale)
    told = told_of(solved, estimates, scale)
    return Prediction(
        axles=axles_of(pattern, told),
        pairs=pairs_of(pattern, told),
        findings=findings_of(plan.findings, todo, pattern, estimates, scale, kept_as),
    )


def _unsolvable() -> ProblemError:
    error = field_error(
        READING_IMPOSSIBLE,
        pointer_to("readings"),
        "no vehicle fits these readings",
        "Check sides, axle numbers and units, and read again what looks wrong.",
    )
    return ProblemError(READING_IMPOSSIBLE, "No vehicle fits these readings.", [error])


def assumptions_of(pattern: Pattern, u: float, scale: Scale) -> list[Assumption]:
    """Each axle that was taken as centred, give or take `u` metres, as nothing tells its place."""
    found = []
    for assumed in pattern.assumed:
        axle = pattern.shape.axles[assumed.axle][0]
        text = ""
        if scale.text:
            size = scale.words("offset", u).removesuffix(" right")
            text = (
                f"Axle {axle} was not taped to the frame and is taken as centred, give or take "
                f"{size} (standard uncertainty). Tape it to make the result surer."
            )
        found.append(
            Assumption(
                id=f"centred-{axle}",
                axle=axle,
                quantity=Quantity.OFFSET,
                value=0.0,
                unit=scale.length,
                standard_uncertainty=clean(u * scale.per_metre),
                text=text,
            )
        )
    return found


def suspects_of(solved: Solved, intake: Intake, scale: Scale) -> list[Suspect]:
    """Readings and assumptions that the others contradict."""
    found = []
    for suspect in suspects(solved):
        if suspect.reading is not None:
            pointer = pointer_to("readings", intake.places[suspect.reading])
            text = "This reading disagrees with the others by more than its uncertainty allows."
        else:
            numbers = [axle[0] for axle in solved.pattern.shape.axles]
            pointer = pointer_to("vehicle", "axles", numbers.index(suspect.axle or 0))
            text = "The readings contradict the assumption that this axle sits centred. Tape it."
        found.append(
            Suspect(
                pointer=pointer,
                normalised_residual=clean(suspect.normalised_residual),
                text=text if scale.text else "",
            )
        )
    return found
