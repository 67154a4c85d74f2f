"""Writes a solution: axles, pairs, findings, and what they rest on."""

from service import __version__
from service.contract.answer_cautions import cautions_of
from service.contract.answer_estimates import RADIAN, Scale, clean, estimates_of, given_length
from service.contract.answer_plan import planned
from service.contract.intake import Intake
from service.contract.problem_catalogue import READING_IMPOSSIBLE
from service.contract.problems import ProblemError, field_error, pointer_to
from service.contract.solution import (
    Assumption,
    AxleGeometry,
    Estimate,
    Finding,
    PairGeometry,
    Prediction,
    Solution,
    SolutionRequest,
    Suspect,
    Verdict,
)
from service.contract.target_sets import Quantity
from service.contract.vehicle import AxleRole
from service.geometry.finding_words import finding_words, limits_words, where_words
from service.geometry.findings import Finding as Judged
from service.geometry.findings import finding_id, judge, judgements_of
from service.geometry.pattern import Pattern
from service.geometry.planning.plan import Plan
from service.geometry.residuals import suspects
from service.geometry.solve import Solved, SolveError, solve

ENGINE = f"axlewright {__version__}"

NO_AXLE = dict.fromkeys(
    name for name in AxleGeometry.__struct_fields__ if name not in ("number", "role")
)
NO_PAIR = dict.fromkeys(("scrub", "span_difference"))
QUANTITIES = {quantity.value: quantity for quantity in Quantity}
VERDICTS = {verdict.value: verdict for verdict in Verdict}
ROLES = {role.value: role for role in AxleRole}


def answer(request: SolutionRequest, intake: Intake) -> Solution:
    """Solve a request that was read and write its answer.

    Raises ProblemError where the readings fit no vehicle at all.
    """
    try:
        solved = solve(
            intake.vehicle, intake.readings, centring_uncertainty=intake.centring_uncertainty
        )
    except (SolveError, ArithmeticError) as error:
        raise _unsolvable() from error
    return write(request, intake, solved)


def write(request: SolutionRequest, intake: Intake, solved: Solved) -> Solution:
    """The answer to a request whose geometry is solved."""
    scale = Scale(request.length_unit, request.fraction, request.text)
    estimates = estimates_of(solved, scale)
    targets = intake.targets
    todo = judgements_of(solved.pattern, targets, intake.built_in)
    found = judge(solved, todo, targets.decision_rule)
    plan = planned(request, intake, solved, found, todo, scale) if request.plan else None
    return Solution(
        engine=ENGINE,
        length_unit=request.length_unit,
        target_set=targets.id if intake.built_in else None,
        axles=_axles(solved, estimates, scale),
        pairs=_pairs(solved.pattern, estimates),
        findings=[_finding(judged, solved, estimates, scale) for judged in found],
        plan=[] if plan is None else plan.steps,
        prediction=None if plan is None else _prediction(plan.plan, scale),
        remaining=[] if plan is None else plan.remaining,
        assumptions=_assumptions(solved, intake, scale),
        suspects=_suspects(solved, intake, scale),
        cautions=cautions_of(request, intake, solved, scale),
    )


def _prediction(plan: Plan, scale: Scale) -> Prediction | None:
    if plan.predicted is None or plan.findings is None or not plan.moves:
        return None
    solved = plan.predicted
    estimates = estimates_of(solved, scale)
    return Prediction(
        axles=_axles(solved, estimates, scale),
        pairs=_pairs(solved.pattern, estimates),
        findings=[_finding(judged, solved, estimates, scale) for judged in plan.findings],
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
    of_axle = {axle[0]: dict(NO_AXLE) for axle in solved.pattern.shape.axles}
    for quantity, estimate in zip(solved.pattern.quantities, estimates, strict=True):
        if quantity.reference is None:
            of_axle[quantity.axle][quantity.name] = estimate
        if quantity.baseline is not None:
            baseline = solved.numbers[quantity.baseline]
            of_axle[quantity.axle]["toe_baseline"] = given_length(baseline, scale)
    return [
        AxleGeometry(number=axle[0], role=ROLES[axle[1]], **of_axle[axle[0]])
        for axle in solved.pattern.shape.axles
    ]


def _pairs(pattern: Pattern, estimates: list[Estimate]) -> list[PairGeometry]:
    of_pair = {pair: dict(NO_PAIR) for pair in pattern.pairs}
    for quantity, estimate in zip(pattern.quantities, estimates, strict=True):
        if quantity.reference is not None:
            of_pair[quantity.reference, quantity.axle][quantity.name] = estimate
    return [PairGeometry(front=f, rear=r, **told) for (f, r), told in of_pair.items()]


def _finding(judged: Judged, solved: Solved, estimates: list[Estimate], scale: Scale) -> Finding:
    quantity, target = solved.pattern.quantities[judged.quantity], judged.target
    estimate = estimates[judged.quantity]
    factor = scale.per_metre if quantity.length else RADIAN
    lower, upper = target.lower, target.upper
    text = ""
    if scale.text:
        text = finding_words(
            quantity.name,
            where_words(quantity.axle, quantity.reference),
            estimate.text,
            judged.verdict,
            limits_words(quantity.name, lower, upper, scale.unit, scale.denominator),
            judged.probability,
        )
    return Finding(
        id=finding_id(quantity),
        quantity=QUANTITIES[quantity.name],
        axle=quantity.axle,
        reference_axle=quantity.reference,
        estimate=estimate,
        nominal=clean(target.nominal * factor),
        lower=None if lower is None else clean(lower * factor),
        upper=None if upper is None else clean(upper * factor),
        verdict=VERDICTS[judged.verdict],
        probability=clean(judged.probability),
        source=target.source,
        text=text,
    )


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
