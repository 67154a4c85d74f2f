"""Target sets: what a quantity should be, on which axles, within which limits and who says so."""

from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache
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


class TargetError(ValueError):
    """A target that cannot hold; `field` names the part of the row that is wrong."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


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
    raise TargetError("quantity", f"quantity {quantity!r} is not known")


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
            raise TargetError(field, f"{field} must be a finite number")
    _check_limits(target.nominal, target.lower, target.upper)
    if target.baseline is not None:
        if target.quantity != "toe_length":
            raise TargetError(
                "baseline", f"a baseline belongs to toe_length only, not to {target.quantity}"
            )
        if target.baseline <= 0.0:
            raise TargetError("baseline", "a baseline must be longer than 0")
    return target


def _check_dimension(target: Target) -> None:
    wanted = dimension_of(target.quantity)
    if target.dimension == wanted:
        return
    twin = (_LENGTH_TWIN if wanted == ANGLE else _ANGLE_TWIN).get(target.quantity)
    units = "deg or mm/m" if wanted == ANGLE else "in, mm or cm"
    article = "an angle" if wanted == ANGLE else "a length"
    other = f", or name the quantity {twin}" if twin else ""
    raise TargetError("unit", f"{target.quantity} is {article}: write its unit {units}{other}")


def _check_limits(nominal: float, lower: float | None, upper: float | None) -> None:
    if lower is not None and upper is not None and lower > upper:
        raise TargetError("lower", "the lower limit is above the upper: exchange the two")
    if lower is not None and nominal < lower:
        raise TargetError("nominal", "the nominal value is below its own lower limit")
    if upper is not None and nominal > upper:
        raise TargetError("nominal", "the nominal value is above its own upper limit")


def applies(target: Target, role: str, axle_number: int) -> bool:
    """Whether the row speaks of an axle with this role and number (of a pair: the rear axle)."""
    return (not target.roles or role in target.roles) and (
        not target.axles or axle_number in target.axles
    )


def rows_for(target_set: TargetSet, role: str, axle_number: int) -> tuple[Target, ...]:
    """The set's rows that apply to one axle, in the set's order."""
    if _BUILT_IN.get(target_set.id) is target_set:
        return _built_in_rows(target_set.id, role, axle_number)
    return _matching(target_set.rows, role, axle_number)


@lru_cache(maxsize=1024)
def _built_in_rows(set_id: str, role: str, axle_number: int) -> tuple[Target, ...]:
    return _matching(_BUILT_IN[set_id].rows, role, axle_number)


def _matching(rows: Iterable[Target], role: str, axle_number: int) -> tuple[Target, ...]:
    return tuple(row for row in rows if applies(row, role, axle_number))


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
