"""Compares two solutions of one vehicle: what changed, and whether the readings can tell."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.findings import Finding, finding_id
from service.geometry.solve import Solved

COVERAGE = 2.0
"""A change counts when it exceeds its expanded uncertainty, k = 2."""

CONFORMING, NONCONFORMING = "conforming", "nonconforming"


class Change(NamedTuple):
    """Change of one quantity (places in the two patterns), after less before, metres or radians.

    `u` is the standard uncertainty of the change. Readings of the two rounds are taken as
    independent; an assumption that both rest on would cancel, so `u` is then on the safe side.
    """

    before: int
    after: int
    change: float
    u: float
    significant: bool


def changes(before: Solved, after: Solved) -> list[Change]:
    """Changes of the quantities that both solutions reach, in the order of the later one."""
    known = {
        (quantity.name, quantity.axle, quantity.reference): place
        for place, quantity in enumerate(before.pattern.quantities)
    }
    found = []
    for place, quantity in enumerate(after.pattern.quantities):
        earlier = known.get((quantity.name, quantity.axle, quantity.reference))
        if earlier is None:
            continue
        change = after.values[place] - before.values[earlier]
        u = math.hypot(before.uncertainties[earlier], after.uncertainties[place])
        found.append(Change(earlier, place, change, u, abs(change) > COVERAGE * u))
    return found


class Turn(NamedTuple):
    """A finding's verdict before and after, None where it was not judged."""

    id: str
    before: str | None
    after: str | None

    @property
    def cured(self) -> bool:
        """Did not conform and does."""
        return self.before == NONCONFORMING and self.after == CONFORMING

    @property
    def appeared(self) -> bool:
        """Does not conform and was not known to."""
        return self.before != NONCONFORMING and self.after == NONCONFORMING


def turns(
    before: Solved,
    judged_before: Sequence[Finding],
    after: Solved,
    judged_after: Sequence[Finding],
) -> list[Turn]:
    """Every finding of either solution with both its verdicts."""
    first = _verdicts(before, judged_before)
    second = _verdicts(after, judged_after)
    return [Turn(name, first.get(name), second.get(name)) for name in {**first, **second}]


def _verdicts(solved: Solved, judged: Sequence[Finding]) -> dict[str, str]:
    quantities = solved.pattern.quantities
    return {finding_id(quantities[f.quantity]): f.verdict for f in judged}
