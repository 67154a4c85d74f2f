"""Repeatability, reproducibility and their sums against published worked examples.

Where a table stands here from memory, its rounded results were remembered apart from its data,
and the arithmetic joins the two: a slip in either would part them.
"""

from importlib.resources import files
from math import log10

import pytest
from scipy import stats

from service.geometry.anova import Anova, one_way, precision
from service.geometry.student import coverage_factor

SULFUR = {
    1: [[.71, .71, .70, .71], [.69, .67, .68], [.66, .65, .69], [.67, .65, .66],
        [.70, .69, .66, .71, .69], [.73, .74, .73], [.71, .71, .69], [.70, .65, .68]],
    2: [[1.20, 1.18, 1.23, 1.21], [1.22, 1.21, 1.22], [1.28, 1.31, 1.30], [1.23, 1.18, 1.20],
        [1.31, 1.22, 1.22, 1.24], [1.39, 1.36, 1.37], [1.20, 1.26, 1.26], [1.24, 1.22, 1.30]],
    3: [[1.68, 1.70, 1.68, 1.69], [1.64, 1.64, 1.65], [1.61, 1.61, 1.62], [1.68, 1.66, 1.66],
        [1.64, 1.67, 1.60, 1.66, 1.68], [1.70, 1.73, 1.73], [1.69, 1.70, 1.68],
        [1.67, 1.68, 1.67]],
    4: [[3.26, 3.26, 3.20, 3.24], [3.20, 3.20, 3.20], [3.37, 3.36, 3.38], [3.16, 3.22, 3.23],
        [3.20, 3.19, 3.18, 3.27, 3.24], [3.27, 3.31, 3.29], [3.27, 3.24, 3.23],
        [3.25, 3.26, 3.26]],
}  # fmt: skip
"""ISO 5725-2:1994 annex B.1, sulfur content of coal, 8 laboratories, 4 levels (from memory)."""


@pytest.mark.parametrize(
    ("level", "mean", "s_r", "s_reproducibility"),
    [
        (1, 0.690, 0.015, 0.026),
        (2, 1.252, 0.029, 0.061),
        (3, 1.667, 0.017, 0.035),
        (4, 3.250, 0.026, 0.058),
    ],
)
def test_sulfur_in_coal_with_unequal_numbers_of_tests(
    level: int, mean: float, s_r: float, s_reproducibility: float
) -> None:
    """ISO 5725-2:1994 annex B.1, results as printed there (from memory), to three decimals."""
    seen = precision([SULFUR[level]])
    assert one_way(SULFUR[level]).mean == pytest.approx(mean, abs=5.1e-4)
    assert seen.repeatability == pytest.approx(s_r, abs=5.1e-4)
    assert seen.reproducibility == pytest.approx(s_reproducibility, abs=5.1e-4)


GLUCOSE_A = [
    [41.03, 41.45, 41.37], [41.17, 42.00, 41.15], [41.01, 40.68, 42.66], [39.37, 42.37, 42.63],
    [41.88, 41.19, 41.32], [43.28, 40.50, 42.28], [41.08, 41.27, 39.02], [43.36, 42.65, 41.72],
]  # fmt: skip
"""ASTM E691, glucose in serum, material A, 8 laboratories (from memory)."""


def test_a_negative_variance_between_laboratories_counts_as_nought() -> None:
    """ASTM E691, whose arithmetic is that of ISO 5725-2: s_r and s_R both printed 1.0632."""
    seen = precision([GLUCOSE_A])
    assert one_way(GLUCOSE_A).mean == pytest.approx(41.5183, abs=5e-5)
    assert seen.repeatability == pytest.approx(1.0632, abs=5e-5)
    assert seen.between == 0.0
    assert seen.reproducibility == seen.repeatability


TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip
"""JCGM 100:2008, 4.4.3, table 1, degrees Celsius (from memory)."""


def test_the_temperatures_of_the_gum_have_the_standard_uncertainty_printed_there() -> None:
    """JCGM 100:2008, 4.4.3: mean 100.145, s 1.489, s of the mean 0.333 (from memory)."""
    seen = precision([[TEMPERATURES]])
    assert one_way([TEMPERATURES]).mean == pytest.approx(100.145, abs=5e-4)
    assert seen.repeatability == pytest.approx(1.489, abs=5e-4)
    assert seen.repeatability / 20**0.5 == pytest.approx(0.333, abs=5e-4)
    assert seen.df_repeatability == 19
    assert seen.reproducibility is None


ZENER_MEANS = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41]
ZENER_DEVIATIONS = [60, 77, 111, 101, 67, 93, 80, 73, 88, 86]
"""JCGM 100:2008, H.5, table H.9: daily means of 5 readings above 10 V and their s, microvolts.

From memory, and the same as a public uncertainty calculator tests itself with.
"""


def five_readings(mean: float, deviation: float) -> list[float]:
    """Five readings with this mean and this experimental standard deviation."""
    return [mean + deviation * z / 2.5**0.5 for z in (-2.0, -1.0, 0.0, 1.0, 2.0)]


def test_the_zener_standard_of_the_gum_has_its_variances_within_and_between_days() -> None:
    """JCGM 100:2008, H.5.2: s_a 128 uV with 9, s_b 85 uV with 40 degrees of freedom, F 2.25."""
    days = [five_readings(*day) for day in zip(ZENER_MEANS, ZENER_DEVIATIONS, strict=True)]
    table = one_way(days)
    assert table.mean == pytest.approx(97, abs=0.5)
    assert (table.df_between, table.df_within) == (9, 40)
    assert table.ms_between**0.5 == pytest.approx(128, abs=0.5)
    assert table.ms_within**0.5 == pytest.approx(85, abs=0.5)
    # Printed 2.25 from the rounded 128 and 85; unrounded it is 2.262.
    assert table.f == pytest.approx(2.25, abs=0.02)


def test_the_zener_standard_of_the_gum_has_its_standard_deviation_between_days() -> None:
    """JCGM 100:2008, H.5.2.5: s_B 43 uV (from memory)."""
    days = [five_readings(*day) for day in zip(ZENER_MEANS, ZENER_DEVIATIONS, strict=True)]
    assert precision([days]).between == pytest.approx(43, abs=0.5)


@pytest.mark.parametrize("level", SULFUR)
def test_groups_of_uneven_length_have_the_f_of_scipy(level: int) -> None:
    """Against scipy.stats.f_oneway."""
    table = one_way(SULFUR[level])
    assert table.f == pytest.approx(stats.f_oneway(*SULFUR[level]).statistic, rel=1e-11)


def nist(name: str) -> tuple[list[list[float]], dict[str, float]]:
    """Groups and certified values of a NIST/ITL StRD data set, as scipy carries them."""
    place = files("scipy.stats.tests") / "data" / "nist_anova" / f"{name}.dat"
    lines = place.read_text(encoding="ascii").splitlines()
    between = next(line.split() for line in lines if line.startswith("Between"))
    within = next(line.split() for line in lines if line.startswith("Within"))
    deviation = next(i for i, line in enumerate(lines) if "Standard Deviation" in line)
    certified = {
        "ss_between": float(between[-3]),
        "f": float(between[-1]),
        "ss_within": float(within[-2]),
        "deviation": float(lines[deviation].split()[-1]),
    }
    groups: dict[str, list[float]] = {}
    for line in lines[60:]:
        if line.strip():
            group, value = line.split()
            groups.setdefault(group, []).append(float(value))
    return list(groups.values()), certified


def digits(value: float, certified: float) -> float:
    """Correct digits by the log relative error, the measure NIST names."""
    return 16.0 if value == certified else -log10(abs(value / certified - 1))


# Correct digits that must come out. Data of the higher level (SmLs07 to 09) agree in 13 leading
# digits: written into doubles they themselves are good for 2 to 4 digits of their differences.
NIST_SETS = [
    ("SiRstv", 12), ("AtmWtAg", 9), ("SmLs01", 13), ("SmLs02", 13), ("SmLs03", 12),
    ("SmLs04", 9), ("SmLs05", 9), ("SmLs06", 9), ("SmLs07", 3), ("SmLs08", 3), ("SmLs09", 3),
]  # fmt: skip


@pytest.mark.parametrize(("name", "needed"), NIST_SETS)
def test_certified_analyses_of_variance_are_met(name: str, needed: int) -> None:
    """NIST/ITL Statistical Reference Datasets, analysis of variance."""
    groups, certified = nist(name)
    table: Anova = one_way(groups)
    assert digits(table.ss_between, certified["ss_between"]) > needed
    assert digits(table.ss_within, certified["ss_within"]) > needed
    assert digits(table.f, certified["f"]) > needed
    assert digits(precision([groups]).repeatability, certified["deviation"]) > needed


@pytest.mark.parametrize("probability", [0.5, 0.6827, 0.9, 0.95, 0.9545, 0.99, 0.999])
def test_coverage_factors_are_quantiles_of_students_t(probability: float) -> None:
    """Against scipy.stats.t for 1 to 300 degrees of freedom and far beyond."""
    for freedom in [*range(1, 301), 1_000, 100_000]:
        quantile = float(stats.t.ppf(0.5 + probability / 2, freedom))
        assert coverage_factor(freedom, probability) == pytest.approx(quantile, rel=1e-10)


@pytest.mark.parametrize(
    ("freedom", "factor"), [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01)]
)
def test_coverage_factors_are_those_of_the_gum(freedom: int, factor: float) -> None:
    """JCGM 100:2008, table G.2, 95 % (from memory)."""
    assert coverage_factor(freedom) == pytest.approx(factor, abs=5.1e-3)
