"""Weighted normal equations of one group of unknowns, factored along their own zeros.

The unknowns of a vehicle hang together loosely (each axle on the reference axle, neighbours on
each other), so the matrix is mostly zeros. Which entries ever fill is known from the reading
pattern alone; the arithmetic then runs through plain loops over those entries. Each entry is a
float, or an array with one place a vehicle: the same loops solve one vehicle or a stack of them.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from service.geometry.numbers import Functions, Number
from service.geometry.rows import Row


def elimination_order(unknowns: Iterable[int], rows: Iterable[Sequence[int]]) -> list[int]:
    """Order unknowns so that those with few neighbours go first, which keeps fill-in small."""
    neighbours: dict[int, set[int]] = {unknown: set() for unknown in unknowns}
    for row in rows:
        for unknown in row:
            neighbours[unknown].update(row)
    order = []
    while neighbours:
        least = min(neighbours, key=lambda unknown: (len(neighbours[unknown]), unknown))
        joined = neighbours.pop(least) - {least}
        for unknown in joined:
            neighbours[unknown] |= joined
            neighbours[unknown].discard(least)
        order.append(least)
    return order


class Check(NamedTuple):
    """A row's residual (observed less modelled), its variance, and that of the reading itself.

    The residual varies less than the reading, which pulled the fit its way.
    """

    row: int
    rest: Number
    own: Number
    variance: Number


CRITICAL = 3.29
"""Two-sided 0.1 % point of the normal law, the usual level of data snooping in adjustment."""

CHECKED_SHARE = 1e-6
"""A residual whose variance is below this share of the reading's is not checked by any other."""


def doubtful(checks: Sequence[float]) -> bool:
    """Whether any residual is too large, of checks that stand in a row without their places."""
    for at in range(0, len(checks), 3):
        rest, own, variance = checks[at : at + 3]
        if own > CHECKED_SHARE * variance and rest * rest >= CRITICAL * CRITICAL * own:
            return True
    return False


class Group:
    """Unknowns that share readings, directly or through each other, and their equations.

    Parameters: `order` the unknowns by elimination, `rows` the equations. A row may also touch
    unknowns outside the group that are held at their starting value.
    """

    def __init__(self, order: list[int], rows: list[Row]):
        self.order = order
        self.rows = rows
        self.size = len(order)
        self.place = {unknown: place for place, unknown in enumerate(order)}
        self.linear = all(row.linear for row in rows)
        self.redundant = len(rows) > self.size
        self.pairs = [self._pairs(row) for row in rows]
        self.below = self._fill()
        self.tests = [self._test(row) for row in rows] if self.redundant else []

    def _pairs(self, row: Row) -> list[tuple[int, int, int, int]]:
        """For each product of two derivatives of a row: which two, and where it is added."""
        kept = [(at, self.place[u]) for at, u in enumerate(row.unknowns) if u in self.place]
        return [(a, c, i, k) for a, i in kept for c, k in kept if k <= i]

    def _test(self, row: Row) -> tuple[Row, list[tuple[int, int]], tuple[int, ...]]:
        """A row, which of its derivatives are by unknowns of the group, and what they touch."""
        places = [(at, self.place[u]) for at, u in enumerate(row.unknowns) if u in self.place]
        return row, places, self.reached_columns(place for _, place in places)

    def _fill(self) -> list[tuple[int, ...]]:
        """Rows below the diagonal that become nonzero in each column of the factor."""
        columns: list[set[int]] = [set() for _ in range(self.size)]
        for pairs in self.pairs:
            for _, _, i, k in pairs:
                if i > k:
                    columns[k].add(i)
        for column in columns:
            first = min(column, default=None)
            if first is not None:
                columns[first] |= column - {first}
        return [tuple(sorted(column)) for column in columns]

    def reached_columns(self, places: Iterable[int]) -> tuple[int, ...]:
        """Columns that a forward substitution starting at `places` passes through, in order."""
        found: set[int] = set()
        waiting = set(places)
        while waiting:
            place = waiting.pop()
            found.add(place)
            waiting.update(below for below in self.below[place] if below not in found)
        return tuple(sorted(found))

    def assemble(
        self, v: Sequence[Number], p: Sequence[Number], f: Functions, dropped: frozenset[int]
    ) -> tuple[list[list[Number]], list[Number]]:
        """Lower half of the normal matrix and its right side at the present unknowns."""
        matrix: list[list[Number]] = [[0.0] * (i + 1) for i in range(self.size)]
        right: list[Number] = [0.0] * self.size
        for number, (row, pairs) in enumerate(zip(self.rows, self.pairs, strict=True)):
            if number in dropped:
                continue
            rest, slopes, variance = row.equation(v, p, f)
            weight = 1 / variance
            for a, c, i, k in pairs:
                weighted = weight * slopes[a]
                matrix[i][k] = matrix[i][k] + weighted * slopes[c]
                if i == k:
                    right[i] = right[i] + weighted * rest
        return matrix, right

    def factor(self, matrix: list[list[Number]]) -> None:
        """Turn the matrix into L and D of L D L' in place; D stands on the diagonal."""
        for j, below in enumerate(self.below):
            pivot = matrix[j][j]
            column = [matrix[i][j] for i in below]
            for count, i in enumerate(below):
                row = matrix[i]
                scaled = column[count] / pivot
                for k, other in zip(below[: count + 1], column, strict=False):
                    row[k] = row[k] - scaled * other
                row[j] = scaled

    def solve(self, factor: list[list[Number]], right: list[Number]) -> list[Number]:
        """Solve with a finished factor; `right` is used up."""
        for j, below in enumerate(self.below):
            for i in below:
                right[i] = right[i] - factor[i][j] * right[j]
        for j in range(self.size - 1, -1, -1):
            value = right[j] / factor[j][j]
            for i in self.below[j]:
                value = value - factor[i][j] * right[i]
            right[j] = value
        return right

    def checks(
        self,
        v: Sequence[Number],
        p: Sequence[Number],
        factor: list[list[Number]],
        f: Functions,
        dropped: frozenset[int] = frozenset(),
    ) -> list[Check]:
        """How well each row that is not dropped fits the rest."""
        found = []
        for number, (row, places, columns) in enumerate(self.tests):
            if number not in dropped:
                rest, slopes, variance = row.equation(v, p, f)
                gradient = [(place, slopes[at]) for at, place in places]
                own = variance - self.variance(factor, gradient, columns)
                found.append(Check(number, rest, own, variance))
        return found

    def variance(
        self,
        factor: list[list[Number]],
        gradient: Sequence[tuple[int, Number]],
        columns: Sequence[int],
    ) -> Number:
        """Variance of a combination of the unknowns, `gradient` as (place, derivative)."""
        forward: list[Number] = [0.0] * self.size
        for place, derivative in gradient:
            forward[place] = derivative
        total: Number = 0.0
        for j in columns:
            value = forward[j]
            total = total + value * value / factor[j][j]
            for i in self.below[j]:
                forward[i] = forward[i] - factor[i][j] * value
        return total
