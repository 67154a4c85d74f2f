"""One-way analysis of variance, and repeatability and reproducibility from it (ISO 5725-2).

Sums are taken about a first reading and by `math.fsum`, so that readings that agree in their
leading digits lose none of those in which they differ.
"""

from collections.abc import Sequence
from math import fsum, inf, sqrt
from typing import NamedTuple

Group = Sequence[float]


class Anova(NamedTuple):
    """Sums of squares and degrees of freedom between and within the groups."""

    mean: float
    ss_between: float
    df_between: int
    ss_within: float
    df_within: int

    @property
    def ms_between(self) -> float:
        """Mean square between the groups; nan-free: 0 of a single group."""
        return self.ss_between / self.df_between if self.df_between else 0.0

    @property
    def ms_within(self) -> float:
        """Mean square within the groups: the variance of repetition, 0 when nothing repeats."""
        return self.ss_within / self.df_within if self.df_within else 0.0

    @property
    def f(self) -> float:
        """Ratio of the mean squares; infinite when repetition has no scatter."""
        return self.ms_between / self.ms_within if self.ms_within else inf


class Precision(NamedTuple):
    """Standard deviations by ISO 5725-2, in the unit of the readings, and degrees of freedom.

    `repeatability` s_r: one operator, one place. `between` s_L: from operator to operator.
    `reproducibility` s_R: any operator, s_R^2 = s_r^2 + s_L^2, with effective degrees of freedom
    by Welch and Satterthwaite (JCGM 100:2008, G.4.1). The last three are None when no place was
    read by two operators.
    """

    repeatability: float
    df_repeatability: int
    between: float | None
    reproducibility: float | None
    df_reproducibility: float | None


def one_way(groups: Sequence[Group]) -> Anova:
    """Analysis of variance of groups of any sizes; raises ValueError when there is no reading."""
    sizes = [len(group) for group in groups if group]
    if not sizes:
        raise ValueError("there is no reading to analyse")
    filled = [group for group in groups if group]
    start = filled[0][0]
    shifted = [[reading - start for reading in group] for group in filled]
    total = sum(sizes)
    means = [fsum(group) / len(group) for group in shifted]
    mean = fsum([reading for group in shifted for reading in group]) / total
    between = fsum([n * (m - mean) ** 2 for n, m in zip(sizes, means, strict=True)])
    within = fsum([(x - m) ** 2 for group, m in zip(shifted, means, strict=True) for x in group])
    return Anova(start + mean, between, len(filled) - 1, within, total - len(filled))


def precision(levels: Sequence[Sequence[Group]]) -> Precision:
    """Precision of a way of reading, pooled over levels (places), each read by some operators.

    `levels[i][j]` holds the repeated readings of operator j at place i. Of one level it is
    ISO 5725-2 with unequal numbers of readings; over several levels the sums of squares within,
    those between, and their weights are added, which takes the scatter to be the same everywhere
    and an operator's bias to be new at each place. A negative variance between operators counts
    as 0, as the standard says. Raises ValueError when no group has two readings.
    """
    tables = [one_way(groups) for groups in levels]
    df_within = sum([table.df_within for table in tables])
    if df_within == 0:
        raise ValueError("no place was read twice by one operator: nothing repeats")
    within = fsum([table.ss_within for table in tables]) / df_within
    df_between = sum([table.df_between for table in tables])
    if df_between == 0:
        return Precision(sqrt(within), df_within, None, None, None)
    between = fsum([table.ss_between for table in tables]) / df_between
    size = fsum([_weight(groups) for groups in levels]) / df_between
    variance = max(0.0, (between - within) / size)
    total = within + variance
    freedom: float = df_within
    if variance > 0.0:
        parts = (between / size, df_between), (within * (1 - 1 / size), df_within)
        freedom = total**2 / sum([part**2 / df for part, df in parts])
    return Precision(sqrt(within), df_within, sqrt(variance), sqrt(total), freedom)


def _weight(groups: Sequence[Group]) -> float:
    """(p - 1) times the mean group size that the variance between enters with (ISO 5725-2)."""
    sizes = [len(group) for group in groups if group]
    total = sum(sizes)
    return total - sum([n * n for n in sizes]) / total
