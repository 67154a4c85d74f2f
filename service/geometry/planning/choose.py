"""Chooses the fewest values to move, then the least movement, in steps the adjusters allow."""

import math
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from service.geometry.planning.each import mended_each
from service.geometry.planning.effort import Effort
from service.geometry.planning.rows import MATCH_WEDGES, Limit, Row, Value
from service.geometry.planning.runs import SAME, Run, solved_run
from service.geometry.planning.steps import NOT_OUT


class Choice(NamedTuple):
    """Values after the plan: as computed and as the adjusters allow; `excess` what stays out."""

    values: list[Value]
    exact: list[float]
    rounded: list[float]
    excess: float


class Way(NamedTuple):
    """What the places up to one that stays come to: the measures it is chosen by, and the runs.

    `excess` and `unsure` say how far broken and undecided findings stay outside their limits.
    `taper` is what a wedge is changed by: of two equal changes the one that leaves the thinner
    wedge is made, whichever its side, so that a mirrored vehicle gets the mirrored plan.
    """

    excess: float
    unsure: float
    cost: float
    taper: float
    moved: tuple[int, ...]
    runs: tuple[tuple[int, Run], ...]

    def better_than(self, other: "Way | None") -> bool:
        """Less left out, else fewer moves, less left undecided, less movement, the front ones."""
        if other is None:
            return True
        if abs(self.excess - other.excess) > NOT_OUT:
            return self.excess < other.excess
        if len(self.moved) != len(other.moved):
            return len(self.moved) < len(other.moved)
        if abs(self.unsure - other.unsure) > NOT_OUT:
            return self.unsure < other.unsure
        if abs(self.cost - other.cost) > SAME * max(self.cost, other.cost):
            return self.cost < other.cost
        if abs(self.taper - other.taper) > NOT_OUT:
            return self.taper < other.taper
        return self.moved < other.moved


AT_FRONT = Way(0.0, 0.0, 0.0, 0.0, (), ())


def choose(row: Row, to_nominal: bool) -> Choice:
    """The values that a row is to have.

    Fewest moved values first; among those what leaves the least undecided, then the least total
    movement, the front ones on a tie.
    Where no allowed movement reaches all limits, whatever leaves the least of them out; but what is
    right by itself is not moved just to bring another's fault a little nearer to its limits.
    """
    each = mended_each(row, to_nominal)
    if each is not None:
        return Choice([place[0] for place in row.places], each.exact, each.rounded, 0.0)
    if len(row.places) == 1:
        return _alone(row, to_nominal)
    best = _searched(row, to_nominal)
    for place in _innocent(row) if best.excess > NOT_OUT else ():
        if best.rounded[place] != best.values[place].start:
            holding = _holding(row, place)
            held = _searched(holding, to_nominal)
            if _mended(row, held) >= _mended(row, best):
                row, best = holding, held
    return best


def _searched(row: Row, to_nominal: bool) -> Choice:
    """The best of all ways through a row of several values."""
    search = Search(row, to_nominal)
    best = search.what_is_out() or search.any_of_all()
    values = [place[0] for place in row.places]
    exact = [value.start for value in values]
    rounded = list(exact)
    for first, run in best.runs:
        last = first + len(run.values)
        values[first:last], exact[first:last] = run.values, run.exact
        rounded[first:last] = run.rounded
    return Choice(values, exact, rounded, best.excess)


def _innocent(row: Row) -> list[int]:
    """Places that are within their own limits, of which only a neighbour that is not is too far.

    The last comes first: of several that might as well stay the front ones move.
    """
    out = [_out(place[0].limits) > 0.0 for place in row.places]
    found = {place for place, is_out in enumerate(out) if not is_out}
    for front, link in enumerate(row.links):
        if _out(link.limits) and not out[front] and not out[front + 1]:
            found -= {front, front + 1}
    return sorted(found, reverse=True)


def _holding(row: Row, place: int) -> Row:
    """A row of which one value cannot be moved."""
    places = list(row.places)
    places[place] = [places[place][0]._replace(adjuster=None)]
    return Row(places, row.links)


def _mended(row: Row, choice: Choice) -> set[int]:
    """Broken findings that a choice brings within their limits."""
    at = choice.rounded
    apart = [rear - front for front, rear in pairwise(at)]
    limits = [(limit, at[n]) for n, value in enumerate(choice.values) for limit in value.limits]
    limits += [(limit, apart[n]) for n, link in enumerate(row.links) for limit in link.limits]
    return {
        limit.finding
        for limit, value in limits
        if limit.broken and limit.lower - NOT_OUT <= value <= limit.upper + NOT_OUT
    }


def _alone(row: Row, to_nominal: bool) -> Choice:
    """One value by itself: moved if that brings it further in."""
    value = row.places[0][0]
    out, run = _out(value.limits), solved_run(row, 0, 1, to_nominal, Effort(), math.inf)
    if run is None or run.excess > out - NOT_OUT:
        return Choice([value], [value.start], [value.start], out)
    return Choice(run.values, run.exact, run.rounded, run.excess)


class Search:
    """Ways through one row, the runs on them solved once."""

    def __init__(self, row: Row, to_nominal: bool) -> None:
        self.row = row
        self.to_nominal = to_nominal
        self.effort = Effort()
        self.enough = math.inf  # What leaves out more than this is of no use any more.
        self.known: dict[tuple[int, int], Run | None] = {}
        # By how much each value, and each difference of two, is out where both stay.
        self.out = [_out(place[0].limits) for place in row.places]
        self.apart = [0.0, *[_out(link.limits) for link in row.links]]

    @cached_property
    def unsure(self) -> list[float]:
        """By how much what is undecided of each value is out."""
        return [_unsure(place[0].limits) for place in self.row.places]

    @cached_property
    def unsure_apart(self) -> list[float]:
        """The same of each value's difference to the one before it."""
        return [0.0, *[_unsure(link.limits) for link in self.row.links]]

    def what_is_out(self) -> Way | None:
        """The way that moves just the values that are out, if that mends all there is.

        It is the best there is: where one of them stays more is left out, and no way moves fewer.
        None where more is out, or where more than those values have to move.
        """
        out = [place for place, excess in enumerate(self.out) if excess]
        if not out or any(self.out[place] <= 2 * NOT_OUT for place in out):
            return None
        if any(far for at, far in enumerate(self.apart) if at not in out and at - 1 not in out):
            return None
        way: Way | None = AT_FRONT
        at, size = 0, len(self.out)
        while way is not None and at < size:
            end = at
            while end in out:
                end += 1
            way = self._staying(way, at) if end == at else self._moving(way, at, end)
            at = end + 1
        return way if way is not None and way.excess <= NOT_OUT else None

    def any_of_all(self) -> Way:
        """The best of all ways, those first in which few neighbours move."""
        best = self.way(1)
        for longest in range(2, len(self.out) + 1):
            # Whatever moves more values next to each other moves more values in all.
            if best.excess <= NOT_OUT and len(best.moved) < longest:
                break
            if self.effort.left <= 0:
                break
            self.enough = best.excess
            best = self.way(longest)
        return best

    def way(self, longest: int) -> Way:
        """The best way to the end of the row in which no more than `longest` neighbours move.

        A value that stays parts the row: what is best before it does not hang on what comes after.
        """
        size = len(self.row.places)
        ways: list[Way] = []
        for end in range(size + 1):
            best: Way | None = None
            for first in range(end, max(0, end - longest) - 1, -1):
                before = AT_FRONT if first == 0 else ways[first - 1]
                way = (
                    self._staying(before, end) if first == end else self._moving(before, first, end)
                )
                if way is not None and way.better_than(best):
                    best = way
            assert best is not None, "a row in which all stays is always there"
            ways.append(best)
        return ways[size]

    def _staying(self, before: Way, end: int) -> Way:
        """`before`, then the next place staying as well."""
        if end == len(self.out):
            return before
        excess, unsure, cost, taper, moved, runs = before
        excess += self.apart[end] + self.out[end]
        unsure += self.unsure_apart[end] + self.unsure[end]
        return Way(excess, unsure, cost, taper, moved, runs)

    def _moving(self, before: Way, first: int, end: int) -> Way | None:
        """`before`, then the places from `first` up to `end` moved, and `end`, if any, staying."""
        if (first, end) not in self.known:
            self.known[first, end] = solved_run(
                self.row, first, end, self.to_nominal, self.effort, self.enough
            )
        run = self.known[first, end]
        if run is None:
            return None
        taper = sum(run.rounded) if run.values[0].action == MATCH_WEDGES else 0.0
        return Way(
            before.excess + run.excess + (self.out[end] if end < len(self.out) else 0.0),
            before.unsure + run.unsure + (self.unsure[end] if end < len(self.out) else 0.0),
            before.cost + run.cost,
            before.taper + taper,
            (*before.moved, *range(first, end)),
            (*before.runs, (first, run)),
        )


def _out(limits: Sequence[Limit]) -> float:
    out = 0.0
    for limit in limits:
        if limit.broken:
            out += limit.excess
    return out


def _unsure(limits: Sequence[Limit]) -> float:
    unsure = 0.0
    for limit in limits:
        if limit.open and not limit.broken:
            unsure += limit.excess
    return unsure
