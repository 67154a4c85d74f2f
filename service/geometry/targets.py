"""Target sets: what a quantity should be, on which axles, within which limits and who says so."""

from fractions import Fraction
from math import atan, isfinite, radians
from typing import NamedTuple

from service.geometry.data.target_sets import PRINTED_SETS, PrintedRow, PrintedSet

LENGTH = "length"
ANGLE = "angle"

LENGTH_QUANTITIES = frozenset(
    {
        "offset",
        "offset_difference",
        "thrust_difference",
        "toe_length",
        "setback",
        "kingpin_difference",
        "span_difference",
    }
)
ANGLE_QUANTITIES = frozenset(
    {
        "thrust",
        "toe",
        "toe_left",
        "toe_right",
        "skew",
        "camber_left",
        "camber_right",
        "cross_camber",
        "caster_left",
        "caster_right",
        "cross_caster",
        "wedge_left",
        "wedge_right",
        "wedge_difference",
        "scrub",
    }
)
PAIR_QUANTITIES = frozenset({"scrub", "span_difference"})
"""Quantities of two neighbouring axles; a row's roles and axles then speak of the rear one."""

_METRES = {"in": Fraction(254, 10_000), "mm": Fraction(1, 1000), "cm": Fraction(1, 100)}
_LENGTH_TWIN = {"toe": "toe_length", "thrust": "thrust_difference", "skew": "setback"}
_ANGLE_TWIN = {length: angle for angle, length in _LENGTH_TWIN.items()}
_DIMENSION_WORDS = {
    ANGLE: ("an angle, not a length", "deg or mm/m", _LENGTH_TWIN),
    LENGTH: ("a length, not an angle", "in, mm or cm", _ANGLE_TWIN),
}


class TargetError(ValueError):
    """A target that cannot be judged by.

    `field` names the part of the row, `reason` says what is wrong and `hint` how to write it right.
    """

    def __init__(self, field: str, reason: str, hint: str) -> None:
        super().__init__(f"{reason}: {hint}")
        self.field = field
        self.reason = reason
        self.hint = hint


class UnknownTargetSetError(LookupError):
    """No built-in target set has this id."""


class Target(NamedTuple):
    """One quantity's nominal value and limits, in metres or radians by `dimension`.

    A limit of None is open; empty `roles` or `axles` mean every one. `baseline`, in metres, is of
    a toe in length only; None leaves it to the axle's own. `printed` holds a built-in row's texts
    as its source gives them.
    """

    quantity: str
    dimension: str
    nominal: float
    lower: float | None = None
    upper: float | None = None
    roles: tuple[str, ...] = ()
    axles: tuple[int, ...] = ()
    baseline: float | None = None
    source: str = ""
    printed: PrintedRow | None = None


class TargetSet(NamedTuple):
    """A version of a named set; `decision_rule` is "guarded" or "simple"."""

    id: str
    version: int
    title: str
    note: str
    decision_rule: str
    rows: tuple[Target, ...]


def dimension_of(quantity: str) -> str:
    """Whether the quantity is a "length" or an "angle"; TargetError for one that is not known."""
    if quantity in LENGTH_QUANTITIES:
        return LENGTH
    if quantity in ANGLE_QUANTITIES:
        return ANGLE
    known = ", ".join(sorted(LENGTH_QUANTITIES | ANGLE_QUANTITIES))
    raise TargetError("quantity", f"quantity {quantity!r} is not known", f"write one of {known}")


def checked(target: Target) -> Target:
    """The same target, once it is sure that it can be judged by.

    Raises TargetError for an unknown quantity, a unit of the wrong dimension, a number that is
    not finite, a lower limit above the upper, a nominal outside its own limits, and a baseline
    that is not positive or belongs to no toe.
    """
    _check_dimension(target)
    for field in ("nominal", "lower", "upper", "baseline"):
        number = getattr(target, field)
        if number is not None and not isfinite(number):
            raise TargetError(field, f"{field} is not a finite number", "write a finite number")
    _check_limits(target.nominal, target.lower, target.upper)
    if target.baseline is not None:
        _check_baseline(target.quantity, target.baseline)
    return target


def _check_dimension(target: Target) -> None:
    wanted = dimension_of(target.quantity)
    if target.dimension == wanted:
        return
    what, units, twins = _DIMENSION_WORDS[wanted]
    twin = twins.get(target.quantity)
    raise TargetError(
        "unit",
        f"{target.quantity} is {what}",
        f"write its unit as {units}" + (f", or name the quantity {twin}" if twin else ""),
    )


def _check_limits(nominal: float, lower: float | None, upper: float | None) -> None:
    if lower is not None and upper is not None and lower > upper:
        raise TargetError(
            "lower", "the lower limit is above the upper one", "write the smaller one as lower"
        )
    if (lower is not None and nominal < lower) or (upper is not None and nominal > upper):
        raise TargetError(
            "nominal",
            "the nominal value lies outside its own limits",
            "write a nominal value from lower to upper",
        )


def _check_baseline(quantity: str, baseline: float) -> None:
    if quantity != "toe_length":
        raise TargetError(
            "baseline",
            f"{quantity} has no baseline",
            "leave it out: a baseline belongs to toe_length",
        )
    if baseline <= 0.0:
        raise TargetError(
            "baseline",
            "the baseline is not longer than 0",
            "write the span that the toe is stated over",
        )


def applies(target: Target, role: str, axle_number: int) -> bool:
    """Whether the row speaks of an axle with this role and number (of a pair: the rear axle)."""
    return (not target.roles or role in target.roles) and (
        not target.axles or axle_number in target.axles
    )


def over_baseline(target: Target, baseline: float) -> Target:
    """A toe in length restated over another baseline in metres: the same toe, exactly.

    A row that names no baseline already speaks of the one asked for and comes back with it.
    """
    if target.baseline is None or target.baseline == baseline:
        return target._replace(baseline=baseline)
    scale = baseline / target.baseline
    return target._replace(
        nominal=target.nominal * scale,
        lower=None if target.lower is None else target.lower * scale,
        upper=None if target.upper is None else target.upper * scale,
        baseline=baseline,
    )


def target_set(set_id: str) -> TargetSet:
    """The built-in set of this id; UnknownTargetSetError names those that there are."""
    found = _BUILT_IN.get(set_id)
    if found is None:
        raise UnknownTargetSetError(
            f"no target set is called {set_id!r}; there are {', '.join(sorted(_BUILT_IN))}"
        )
    return found


def target_sets() -> tuple[TargetSet, ...]:
    """Every built-in set, the rules of the trade first."""
    return tuple(_BUILT_IN.values())


def _target(row: PrintedRow) -> Target:
    """A printed row in SI, computed from its texts, so that the two cannot differ."""

    def number(text: str | None) -> float | None:
        return None if text is None else _si(Fraction(text), row.unit)

    nominal = _si(Fraction(row.nominal), row.unit)
    return checked(
        Target(
            quantity=row.quantity,
            dimension=LENGTH if row.unit in _METRES else ANGLE,
            nominal=nominal,
            lower=number(row.lower),
            upper=number(row.upper),
            roles=row.roles,
            axles=row.axles,
            baseline=number(row.baseline),
            source=row.source,
            printed=row,
        )
    )


def _si(number: Fraction, unit: str) -> float:
    """Metres or radians; the unit is exact, so a length is rounded once."""
    if unit in _METRES:
        return float(number * _METRES[unit])
    return atan(float(number / 1000)) if unit == "mm/m" else radians(float(number))


def _built_in(printed: PrintedSet) -> TargetSet:
    return TargetSet(
        printed.id,
        printed.version,
        printed.title,
        printed.note,
        printed.decision_rule,
        tuple(_target(row) for row in printed.rows),
    )


_BUILT_IN = {printed.id: _built_in(printed) for printed in PRINTED_SETS}
