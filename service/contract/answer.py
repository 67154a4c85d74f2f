"""Writes a solution: axles, pairs, findings, and what they rest on."""

from typing import NamedTuple

from service import __version__
from service.contract.answer_cautions import cautions_of
from service.contract.answer_estimates import Scale, clean, estimates_of, given_length
from service.contract.answer_findings import findings_of
from service.contract.answer_plan import planned
from service.contract.answer_running import running_of
from service.contract.estimates import Estimate
from service.contract.intake import Intake, intake_of
from service.contract.problem_catalogue import READING_IMPOSSIBLE
from service.contract.problems import ProblemError, field_error, pointer_to
from service.contract.solution import (
    Assumption,
    AxleGeometry,
    PairGeometry,
    Prediction,
    Solution,
    SolutionRequest,
    Suspect,
)
from service.contract.target_sets import Quantity
from service.contract.vehicle import AxleRole
from service.geometry.careful import SolveError
from service.geometry.findings import Finding as Judged
from service.geometry.findings import Judgement, judge, judgements_of
from service.geometry.pattern import Pattern
from service.geometry.planning.plan import Plan
from service.geometry.residuals import suspects
from service.geometry.solve import Solved, solve

ENGINE = f"axlewright {__version__}"

AXLE_FIELDS = AxleGeometry.__struct_fields__[2:]
"""Every field of an axle after its number and role, each an estimate or null."""

BASELINE = AXLE_FIELDS.index("toe_baseline")
NO_PAIR = dict.fromkeys(("scrub", "span_difference"))
ROLES = {role.value: role for role in AxleRole}


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
        solved = solve(
            intake.vehicle,
            intake.readings,
            centring_uncertainty=intake.centring_uncertainty,
            frame_angle=intake.frame_angle,
        )
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
    scale = Scale(request.length_unit, request.fraction, request.text)
    estimates = estimates_of(solved, scale)
    kept_as = worked.kept_as
    plan = planned(request, intake, solved, found, todo, scale) if request.plan else None
    return Solution(
        engine=ENGINE,
        length_unit=request.length_unit,
        target_set=kept_as,
        axles=_axles(solved, estimates, scale),
        pairs=_pairs(solved.pattern, estimates),
        findings=findings_of(found, todo, solved.pattern, estimates, scale, kept_as),
        plan=[] if plan is None else plan.steps,
        prediction=None if plan is None else _prediction(plan.plan, todo, scale, kept_as),
        remaining=[] if plan is None else plan.remaining,
        running=running_of(request, solved, scale) if request.running else None,
        assumptions=_assumptions(solved, intake, scale),
        suspects=_suspects(solved, intake, scale),
        cautions=cautions_of(request, intake, solved, scale),
    )


def _prediction(
    plan: Plan, todo: list[Judgement], scale: Scale, kept_as: str | None
) -> Prediction | None:
    if plan.predicted is None or plan.findings is None or not plan.moves:
        return None
    solved = plan.predicted
    estimates = estimates_of(solved, scale)
    return Prediction(
        axles=_axles(solved, estimates, scale),
        pairs=_pairs(solved.pattern, estimates),
        findings=findings_of(plan.findings, todo, solved.pattern, estimates, scale, kept_as),
    )


def _unsolvable() -> ProblemError:
    error = field_error(
        READING_IMPOSSIBLE,
        pointer_to("readings"),
        "no vehicle fits these readings",
        "Check sides, axle numbers and units, and read again what looks wrong.",
    )
    return ProblemError(READING_IMPOSSIBLE, "No vehicle fits these readings.", [error])


def _axles(solved: Solved, estimates: list[Estimate], scale: Scale) -> list[AxleGeometry]:
    found = []
    for number, role, slots, baseline in _axle_forms(solved.pattern):
        row: list[Estimate | None] = [None if at is None else estimates[at] for at in slots]
        if baseline is not None:
            row[BASELINE] = given_length(solved.numbers[baseline], scale)
        found.append(AxleGeometry(number, role, *row))
    return found


class AxleForm(NamedTuple):
    """Which estimate fills each field of an axle, and where its toe baseline stands."""

    number: int
    role: AxleRole
    slots: tuple[int | None, ...]
    baseline: int | None


def _axle_forms(pattern: Pattern) -> list[AxleForm]:
    forms: list[AxleForm] | None = pattern.kept.get("axle forms")
    if forms is None:
        forms = pattern.kept["axle forms"] = [
            _axle_form(pattern, axle[0], ROLES[axle[1]]) for axle in pattern.shape.axles
        ]
    return forms


def _axle_form(pattern: Pattern, number: int, role: AxleRole) -> AxleForm:
    own = {
        quantity.name: place
        for place, quantity in enumerate(pattern.quantities)
        if quantity.axle == number and quantity.reference is None
    }
    baselines = [q.baseline for q in pattern.quantities if q.axle == number and q.baseline]
    slots = tuple(own.get(name) for name in AXLE_FIELDS)
    return AxleForm(number, role, slots, baselines[0] if baselines else None)


def _pairs(pattern: Pattern, estimates: list[Estimate]) -> list[PairGeometry]:
    of_pair = {pair: dict(NO_PAIR) for pair in pattern.pairs}
    for quantity, estimate in zip(pattern.quantities, estimates, strict=True):
        if quantity.reference is not None:
            of_pair[quantity.reference, quantity.axle][quantity.name] = estimate
    return [PairGeometry(front=f, rear=r, **told) for (f, r), told in of_pair.items()]


def _assumptions(solved: Solved, intake: Intake, scale: Scale) -> list[Assumption]:
    u = intake.centring_uncertainty
    found = []
    for assumed in solved.pattern.assumed:
        axle = solved.pattern.shape.axles[assumed.axle][0]
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


def _suspects(solved: Solved, intake: Intake, scale: Scale) -> list[Suspect]:
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
