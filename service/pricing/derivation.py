"""What may be billed: work derived from a correction plan, or from readings before and after.

The rules, decided here and nowhere else:

* A correction is billed only for findings that were not conforming before. A finding that was
  undetermined counts only where a step of the plan names it: then the shop decided to act on it.
* A final bill needs the proof of the readings after: the finding must be conforming then. What
  is still outside, not proven or not read again is listed as unbilled with that reason.
* A step that names findings of its own kind (offset for centring, thrust or scrub for aiming) is
  proven by one of these; a finding of another kind that it names as well is evidence only.
* One operation on one axle is one piece of work, however many findings it cured. A scrub that was
  cured with no plan is laid to an axle of its pair that was aimed anyway, else to the fewest
  axles that explain every cured scrub.
* The first readings are one `measure`; corrections bring one `remeasure`, which in a final bill
  the readings after prove. Steps that leave no trace in readings (`inspect`, `read`) are in the
  estimate, and in the final bill only when the shop lists them as other work.
"""

from collections.abc import Iterable, Sequence

from service.pricing.errors import PricingError
from service.pricing.operations import (
    CORRECTION_OF,
    OPERATIONS,
    PAIR_QUANTITIES,
    PLAN_ACTIONS,
)
from service.pricing.work import (
    CONFORMING,
    NONCONFORMING,
    UNDETERMINED,
    Account,
    Evidence,
    Finding,
    Step,
    Unbilled,
    Work,
    merged,
)


def work_from_plan(
    findings: Sequence[Finding], steps: Sequence[Step], axles: Iterable[int] = ()
) -> Account:
    """The work that a correction plan asks for, which an estimate is made of.

    `axles` are the numbers of the axles that were measured; without them, those of the findings.
    """
    known = _by_id(findings)
    works = [Work("measure", _axles(findings, axles))]
    unbilled: list[Unbilled] = []
    corrects = False
    for number, step in enumerate(steps):
        operation = _operation(step, number)
        called = _called(step, number, known)
        correction = OPERATIONS[operation].corrects
        if correction and not called:
            unbilled.append(_uncalled(step, operation))
            continue
        corrects = corrects or correction
        works.append(_step_work(step, operation, [_evidence(finding) for finding in called]))
    if corrects:
        works.append(Work("remeasure", works[0].axles))
    return Account(merged(works), tuple(unbilled))


def work_from_rounds(
    before: Sequence[Finding],
    after: Sequence[Finding],
    steps: Sequence[Step] = (),
    axles: Iterable[int] = (),
) -> Account:
    """The work that readings before and after prove, which a final bill is made of.

    `steps` is the plan that was worked to, if there was one; it says which axle was moved, and
    that an undetermined finding was acted on.
    """
    outcomes = _outcomes(before, after)
    works = [Work("measure", _axles(before, axles))]
    unbilled: list[Unbilled] = []
    named, billed = _from_steps(before, steps, outcomes, works, unbilled)
    pairs: list[Finding] = []
    for finding in before:
        if finding.verdict == CONFORMING or finding.id in billed:
            continue
        reason = _reason_against(finding, outcomes[finding.id][0], finding.id in named)
        if reason is None and finding.quantity in PAIR_QUANTITIES:
            pairs.append(finding)
        elif reason is None:
            evidence = _evidence(finding, outcomes[finding.id][1])
            operation = CORRECTION_OF[finding.quantity]
            works.append(
                Work(operation, (finding.axle,), _side(finding.quantity), evidence=(evidence,))
            )
        elif reason:
            unbilled.append(
                Unbilled(
                    reason,
                    CORRECTION_OF.get(finding.quantity),
                    (finding.axle,),
                    (finding.id,),
                    tuple(named.get(finding.id, ())),
                )
            )
    _cover_pairs(pairs, outcomes, works)
    works.append(Work("remeasure", _axles(after, axles)))
    return Account(merged(works), tuple(unbilled))


Outcomes = dict[str, tuple[str, str | None]]

_OUTCOMES = {CONFORMING: "cured", UNDETERMINED: "not_proven", NONCONFORMING: "still_outside"}
_WORSE = list(_OUTCOMES)


def _outcomes(before: Sequence[Finding], after: Sequence[Finding]) -> Outcomes:
    """By id of the finding before: its outcome (`cured` or why not) and its value after.

    Where several limits are put to one quantity, all of them must be kept for it to be cured.
    """
    later: dict[tuple[str, int, int | None], list[Finding]] = {}
    for finding in after:
        later.setdefault(finding.subject, []).append(finding)
    outcomes: Outcomes = {}
    for finding in before:
        same = later.get(finding.subject)
        if same is None:
            outcomes[finding.id] = ("not_read", None)
            continue
        verdict = same[0].verdict
        if len(same) > 1:
            verdict = max((other.verdict for other in same), key=_WORSE.index)
        outcomes[finding.id] = (_OUTCOMES[verdict], same[0].text or None)
    return outcomes


def _from_steps(
    before: Sequence[Finding],
    steps: Sequence[Step],
    outcomes: Outcomes,
    works: list[Work],
    unbilled: list[Unbilled],
) -> tuple[dict[str, list[int]], set[str]]:
    """Add the work of proven steps; return the steps that name each finding, and the findings
    that are billed."""
    known = _by_id(before)
    named: dict[str, list[int]] = {}
    billed: set[str] = set()
    for number, step in enumerate(steps):
        operation = _operation(step, number)
        called = _called(step, number, known)
        if not OPERATIONS[operation].corrects:
            unbilled.append(_unshown(step, operation))
            continue
        if not called:
            unbilled.append(_uncalled(step, operation))
            continue
        for finding in called:
            named.setdefault(finding.id, []).append(step.step)
        cured = [finding for finding in called if outcomes[finding.id][0] == "cured"]
        if cured and _proven(operation, cured, called):
            evidence = [_evidence(finding, outcomes[finding.id][1]) for finding in cured]
            works.append(_step_work(step, operation, evidence))
            billed.update(finding.id for finding in cured)
    return named, billed


def _proven(operation: str, cured: Sequence[Finding], called: Sequence[Finding]) -> bool:
    """Whether what was cured proves an operation: one of its own kind, if it was for any such."""
    for finding in cured:
        if CORRECTION_OF.get(finding.quantity) == operation:
            return True
    return all(CORRECTION_OF.get(finding.quantity) != operation for finding in called)


def _reason_against(finding: Finding, outcome: str, named: bool) -> str | None:
    """Why a finding that no proven step covers is not billed; None if it is to be, "" if there is
    nothing to say."""
    if finding.verdict == UNDETERMINED and not named:
        # Nobody claimed to correct it; only one that turned out right could look like work.
        return "undetermined" if outcome == "cured" else ""
    if outcome != "cured":
        return outcome
    if named:
        return "not_proven"
    return None if finding.quantity in CORRECTION_OF else "no_operation"


def _cover_pairs(pairs: Sequence[Finding], outcomes: Outcomes, works: list[Work]) -> None:
    """Lay cured scrubs to aimed axles, adding as few as explain them all.

    Front to rear, each pair that is not explained yet takes its rear axle, which explains the
    next pair too: on a row of axles no choice needs fewer.
    """
    aimed = {work.axles[0] for work in works if work.operation == "aim_axle"}
    for finding in sorted(pairs, key=lambda pair: pair.axle):
        front = finding.reference_axle
        axle = front if front in aimed and finding.axle not in aimed else finding.axle
        assert axle is not None
        aimed.add(axle)
        evidence = _evidence(finding, outcomes[finding.id][1])
        works.append(Work("aim_axle", (axle,), evidence=(evidence,)))


def _operation(step: Step, number: int) -> str:
    operation = PLAN_ACTIONS.get(step.action)
    if operation is None:
        raise PricingError(
            f"{step.action!r} is no action of a plan",
            f"Known are {', '.join(PLAN_ACTIONS)}.",
            ("before", "plan", number, "action"),
        )
    if step.axle is None and OPERATIONS[operation].scope == "axle":
        raise PricingError(
            f"The step {step.action} is done to an axle, and none is named",
            "Name the axle.",
            ("before", "plan", number, "axle"),
        )
    return operation


def _by_id(findings: Sequence[Finding]) -> dict[str, Finding]:
    known: dict[str, Finding] = {}
    for number, finding in enumerate(findings):
        if known.setdefault(finding.id, finding) is not finding:
            raise PricingError(
                f"Two findings have the id {finding.id!r}",
                "Send them as the solution gave them.",
                ("before", "findings", number, "id"),
            )
    return known


def _called(step: Step, number: int, known: dict[str, Finding]) -> list[Finding]:
    """The findings that call for a step: those it names that were not conforming."""
    called = []
    for place, name in enumerate(step.because):
        finding = known.get(name)
        if finding is None:
            raise PricingError(
                f"There is no finding {name!r} beside the plan",
                "Send the findings that the plan came with.",
                ("before", "plan", number, "because", place),
            )
        if finding.verdict != CONFORMING:
            called.append(finding)
    return called


def _step_work(step: Step, operation: str, evidence: Sequence[Evidence]) -> Work:
    axles = () if step.axle is None else (step.axle,)
    return Work(operation, axles, step.side, evidence=tuple(evidence), steps=(step.step,))


def _uncalled(step: Step, operation: str) -> Unbilled:
    reason = "conforming" if step.because else "not_called_for"
    axles = () if step.axle is None else (step.axle,)
    return Unbilled(reason, operation, axles, step.because, (step.step,))


def _unshown(step: Step, operation: str) -> Unbilled:
    axles = () if step.axle is None else (step.axle,)
    return Unbilled("not_shown", operation, axles, step.because, (step.step,))


def _evidence(finding: Finding, after: str | None = None) -> Evidence:
    return Evidence(
        finding.id, finding.quantity, finding.axle, finding.verdict, finding.text or None, after
    )


def _side(quantity: str) -> str | None:
    if quantity.endswith("_left"):
        return "left"
    return "right" if quantity.endswith("_right") else None


def _axles(findings: Iterable[Finding], given: Iterable[int]) -> tuple[int, ...]:
    """The numbers of the measured axles, each once, front to rear."""
    numbers = set(given)
    if not numbers:
        for finding in findings:
            numbers.add(finding.axle)
            if finding.reference_axle is not None:
                numbers.add(finding.reference_axle)
    return tuple(sorted(numbers))
