"""Writes what is known of axles and pairs: which estimate stands in which field."""

from collections.abc import Callable, Sequence
from operator import itemgetter

from service.contract.answer_estimates import Scale, given_length
from service.contract.estimates import Estimate
from service.contract.solution import AxleGeometry, PairGeometry
from service.contract.vehicle import AxleRole
from service.geometry.pattern import Pattern
from service.geometry.solve import Solved

AXLE_FIELDS = AxleGeometry.__struct_fields__[2:]
"""Every field of an axle after its number and role, each an estimate or null."""

BASELINE = "toe_baseline"
ROLES = {role.value: role for role in AxleRole}


def told_of(solved: Solved, estimates: list[Estimate], scale: Scale) -> list[Estimate | None]:
    """The estimates, then the toe baselines, and last the null of what no reading reaches."""
    numbers = solved.numbers
    given = [given_length(numbers[at], scale) for at in baselines_of(solved.pattern).values()]
    return [*estimates, *given, None]


def axles_of(pattern: Pattern, told: Sequence[Estimate | None]) -> list[AxleGeometry]:
    """Each axle with what is told of it; `told` as `told_of` has it."""
    return [AxleGeometry(number, role, *pick(told)) for number, role, pick in _axle_forms(pattern)]


def pairs_of(pattern: Pattern, told: Sequence[Estimate | None]) -> list[PairGeometry]:
    """Each pair of neighbours that do not steer, with what is told of it."""
    return [
        PairGeometry(front=front, rear=rear, scrub=told[scrub], span_difference=told[span])
        for front, rear, scrub, span in _pair_forms(pattern)
    ]


def baselines_of(pattern: Pattern) -> dict[int, int]:
    """By axle that has one, where its toe baseline stands among the numbers."""
    kept: dict[int, int] | None = pattern.kept.get("baselines")
    if kept is None:
        kept = pattern.kept["baselines"] = {}
        for quantity in pattern.quantities:
            if quantity.baseline:
                kept.setdefault(quantity.axle, quantity.baseline)
    return kept


Pick = Callable[[Sequence[Estimate | None]], tuple[Estimate | None, ...]]
"""Takes from what is told (`told_of`) what stands in each field of an axle."""


def _axle_forms(pattern: Pattern) -> list[tuple[int, AxleRole, Pick]]:
    forms: list[tuple[int, AxleRole, Pick]] | None = pattern.kept.get("axle forms")
    if forms is None:
        forms = pattern.kept["axle forms"] = [
            (axle[0], ROLES[axle[1]], itemgetter(*_slots(pattern, axle[0])))
            for axle in pattern.shape.axles
        ]
    return forms


def _slots(pattern: Pattern, number: int) -> list[int]:
    """Where each field of an axle stands in what is told, -1 for what no reading reaches."""
    own = {
        quantity.name: place
        for place, quantity in enumerate(pattern.quantities)
        if quantity.axle == number and quantity.reference is None
    }
    baselines = list(baselines_of(pattern))
    if number in baselines:
        own[BASELINE] = len(pattern.quantities) + baselines.index(number)
    return [own.get(name, -1) for name in AXLE_FIELDS]


def _pair_forms(pattern: Pattern) -> list[tuple[int, int, int, int]]:
    """Each pair, and where its scrub and span difference stand in what is told, or -1."""
    forms: list[tuple[int, int, int, int]] | None = pattern.kept.get("pair forms")
    if forms is None:
        own = {
            (quantity.reference, quantity.axle, quantity.name): place
            for place, quantity in enumerate(pattern.quantities)
        }
        forms = pattern.kept["pair forms"] = [
            (f, r, own.get((f, r, "scrub"), -1), own.get((f, r, "span_difference"), -1))
            for f, r in pattern.pairs
        ]
    return forms
