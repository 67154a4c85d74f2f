"""Writes the comparison of two rounds of readings."""

import msgspec

from service.contract.answer import Worked, work, write
from service.contract.answer_estimates import COVERAGE, RADIAN, Scale, clean
from service.contract.answer_findings import QUANTITIES, VERDICTS
from service.contract.comparisons import (
    Comparison,
    ComparisonRequest,
    FindingTurn,
    QuantityChange,
)
from service.contract.estimates import Basis, Estimate, EstimateUnit
from service.contract.intake import intake_of
from service.contract.problem_catalogue import CONTRACT_BROKEN
from service.contract.problems import FieldError, ProblemError, field_error, pointer_to
from service.contract.solution import SolutionRequest
from service.geometry.comparison import Change, changes, turns
from service.geometry.finding_words import QUANTITY_NAMES, where_words
from service.geometry.wording import LENGTHS, angle_words, length_words


def compared(request: ComparisonRequest) -> Comparison:
    """Solve both requests and compare them.

    Raises ProblemError for whatever is wrong with either, its pointers led by `before` or `after`.
    """
    errors: list[FieldError] = []
    first = _worked(request.before, "before", errors)
    second = _worked(request.after, "after", errors)
    if not errors:
        errors += _other_vehicle(request)
    if first is None or second is None or errors:
        raise ProblemError.of_broken_rules(errors)
    scale = Scale(request.after.length_unit, request.after.fraction, request.after.text)
    found = turns(first.solved, first.findings, second.solved, second.findings)
    return Comparison(
        length_unit=request.after.length_unit,
        changes=[
            _change(change, first, second, scale) for change in changes(first.solved, second.solved)
        ],
        findings=[
            FindingTurn(
                finding=turn.id,
                before=None if turn.before is None else VERDICTS[turn.before],
                after=None if turn.after is None else VERDICTS[turn.after],
                cured=turn.cured,
                appeared=turn.appeared,
            )
            for turn in found
        ],
        cured=[turn.id for turn in found if turn.cured],
        appeared=[turn.id for turn in found if turn.appeared],
        before=write(request.before, first),
        after=write(request.after, second),
    )


def _worked(request: SolutionRequest, name: str, errors: list[FieldError]) -> Worked | None:
    try:
        return work(intake_of(request))
    except ProblemError as problem:
        for error in problem.errors:
            pointer = f"#/{name}{error.pointer.removeprefix('#')}"
            errors.append(msgspec.structs.replace(error, pointer=pointer))
        return None


def _other_vehicle(request: ComparisonRequest) -> list[FieldError]:
    """The two must be one vehicle as far as the geometry goes: its kind, its axles, their roles."""
    before, after = request.before.vehicle, request.after.vehicle
    same = before.unit == after.unit and [(a.number, a.role) for a in before.axles] == [
        (a.number, a.role) for a in after.axles
    ]
    if same:
        return []
    return [
        field_error(
            CONTRACT_BROKEN,
            pointer_to("after", "vehicle"),
            "`before` and `after` do not describe one vehicle",
            "Send the same kind of vehicle with the same axle numbers and roles in both.",
        )
    ]


def _change(change: Change, first: Worked, second: Worked, scale: Scale) -> QuantityChange:
    quantity = second.solved.pattern.quantities[change.after]
    factor = scale.per_metre if quantity.length else RADIAN
    measured = quantity.measured and first.solved.pattern.quantities[change.before].measured
    size = _size(quantity.name, change.change, scale) if scale.text else ""
    text = ""
    if scale.text:
        where = where_words(quantity.axle, quantity.reference)
        sure = "more" if change.significant else "not more"
        text = (
            f"{where}: {QUANTITY_NAMES[quantity.name]} changed by {size}, {sure} than the "
            "uncertainty of the readings."
        )
    return QuantityChange(
        quantity=QUANTITIES[quantity.name],
        axle=quantity.axle,
        reference_axle=quantity.reference,
        before=_estimate(first, change.before, scale),
        after=_estimate(second, change.after, scale),
        change=Estimate(
            clean(change.change * factor),
            scale.length if quantity.length else EstimateUnit.DEGREE,
            COVERAGE * change.u * factor,
            Basis.MEASURED if measured else Basis.PARTLY_ASSUMED,
            size,
        ),
        significant=change.significant,
        text=text,
    )


def _estimate(worked: Worked, place: int, scale: Scale) -> Estimate:
    """An estimate of either round in the units of the comparison."""
    quantity = worked.solved.pattern.quantities[place]
    factor = scale.per_metre if quantity.length else RADIAN
    value = worked.solved.values[place]
    return Estimate(
        clean(value * factor),
        scale.length if quantity.length else EstimateUnit.DEGREE,
        COVERAGE * worked.solved.uncertainties[place] * factor,
        Basis.MEASURED if quantity.measured else Basis.PARTLY_ASSUMED,
        scale.words(quantity.name, value),
    )


def _size(name: str, change: float, scale: Scale) -> str:
    """A change with its sign: right, in and rearward count positive as the quantity does."""
    if name in LENGTHS:
        text = length_words(change, scale.unit, scale.denominator)
    else:
        text = angle_words(change)
    nothing = not any(digit in "123456789" for digit in text)
    return text if nothing else f"{'+' if change > 0 else '-'}{text}"
