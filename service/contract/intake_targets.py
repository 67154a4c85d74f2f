"""Chooses the target set of a request: a built-in one by name, or the rows it brings along."""

import math

from service.contract.intake_errors import FaultError, unreadable
from service.contract.problem_catalogue import (
    CONTRACT_BROKEN,
    TARGET_LIMITS_CROSSED,
    UNKNOWN_TARGET_SET,
)
from service.contract.problems import FieldError, field_error, pointer_to
from service.contract.solution import InlineTargets, SolutionRequest
from service.contract.target_sets import TargetRow, TargetUnit
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length
from service.geometry.quantity import QuantityError
from service.geometry.targets import (
    Target,
    TargetError,
    TargetSet,
    UnknownTargetSetError,
    checked,
    target_set,
)
from service.geometry.toe_text import parse_toe

DEFAULT_SET = "common-practice"
SLOPE_UNIT = TargetUnit.MILLIMETRE_PER_METRE


def targets_of(request: SolutionRequest, errors: list[FieldError]) -> TargetSet:
    """Return the target set in SI, adding to `errors` whatever is wrong with it."""
    if request.targets is None:
        return _named(request.target_set or DEFAULT_SET, errors)
    if request.target_set is not None:
        errors.append(
            field_error(
                CONTRACT_BROKEN,
                pointer_to("target_set"),
                "both `target_set` and `targets` are given",
                "Name a stored set or send rows, not both.",
            )
        )
    return inline_set(request.targets, errors)


def _named(name: str, errors: list[FieldError]) -> TargetSet:
    try:
        return target_set(name)
    except UnknownTargetSetError:
        errors.append(
            field_error(
                UNKNOWN_TARGET_SET,
                pointer_to("target_set"),
                f"there is no target set {name!r}",
                "Use an id that GET /v1/target-sets lists (a shop's own in stored rounds only), or "
                "send rows in `targets`.",
            )
        )
        return target_set(DEFAULT_SET)


def inline_set(targets: InlineTargets, errors: list[FieldError]) -> TargetSet:
    """Target rows as a client sends them, in metres and radians."""
    rows = []
    for place, row in enumerate(targets.rows):
        steps = ("targets", "rows", place)
        try:
            rows.append(target_of(row))
        except TargetError as error:
            errors.append(_fault(error, row).at(*steps))
        except QuantityError:
            errors += _unreadable_fields(row, steps)
    return TargetSet(
        "inline", 1, "Sent with the request", "", targets.decision_rule.value, tuple(rows)
    )


def target_of(row: TargetRow) -> Target:
    """One row in SI. Raises QuantityError for an unreadable text, TargetError for a wrong one."""
    unit = row.unit.value
    length = unit in ("in", "mm", "cm")
    return checked(
        Target(
            quantity=row.quantity.value,
            dimension="length" if length else "angle",
            nominal=_number(row.nominal, unit),
            lower=None if row.lower is None else _number(row.lower, unit),
            upper=None if row.upper is None else _number(row.upper, unit),
            roles=tuple(role.value for role in row.roles),
            axles=tuple(row.axles),
            baseline=None
            if row.baseline is None
            else parse_length(row.baseline, "in" if not length else unit),
            source=row.source,
        )
    )


def _number(text: str, unit: str) -> float:
    if unit == "deg":
        return parse_angle(text)
    if unit == "mm/m":
        # A number without its unit is read as millimetres, which over a metre is the slope.
        return math.atan(parse_toe(text, "mm")[1])
    return parse_length(text, unit)


def _fault(error: TargetError, row: TargetRow) -> FaultError:
    crossed = error.field == "lower" and row.upper is not None
    kind = TARGET_LIMITS_CROSSED if crossed else CONTRACT_BROKEN
    return FaultError(
        kind, error.field, str(error), "See GET /v1/target-sets for rows that are right."
    )


def _unreadable_fields(row: TargetRow, steps: tuple[str | int, ...]) -> list[FieldError]:
    errors = []
    for field in ("nominal", "lower", "upper", "baseline"):
        text = getattr(row, field)
        if text is None:
            continue
        try:
            if field == "baseline":
                parse_length(text, "in")
            else:
                _number(text, row.unit.value)
        except QuantityError as error:
            errors.append(unreadable(error, *steps, field))
    return errors
