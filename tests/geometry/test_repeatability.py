"""What repeated readings say, on invented readings and on simulated ones."""

from math import radians, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.geometry.anova import one_way, precision
from service.geometry.repeatability import Series, repeatability, split_by_distance
from service.geometry.student import coverage_factor

READINGS = st.lists(st.floats(0.5, 1.5), min_size=2, max_size=6)
GROUPS = st.lists(READINGS, min_size=1, max_size=4)


@settings(deadline=None)
@given(GROUPS)
def test_sums_of_squares_between_and_within_add_to_the_whole(groups: list[list[float]]) -> None:
    table = one_way(groups)
    every = np.array([reading for group in groups for reading in group])
    whole = float(((every - every.mean()) ** 2).sum())
    assert table.ss_between + table.ss_within == pytest.approx(whole, abs=1e-12)
    assert table.df_between + table.df_within == len(every) - 1


@settings(deadline=None)
@given(GROUPS, st.floats(-1e3, 1e3), st.floats(0.1, 10.0))
def test_scatter_does_not_care_where_the_scale_starts_and_goes_with_its_unit(
    groups: list[list[float]], start: float, unit: float
) -> None:
    here = precision([groups])
    there = precision([[[start + unit * reading for reading in group] for group in groups]])
    assert there.repeatability == pytest.approx(unit * here.repeatability, abs=1e-9)
    if here.reproducibility is not None:
        assert there.reproducibility == pytest.approx(unit * here.reproducibility, abs=1e-9)


@settings(deadline=None)
@given(st.lists(GROUPS, min_size=1, max_size=3))
def test_reproducibility_is_never_below_repeatability(levels: list[list[list[float]]]) -> None:
    seen = precision(levels)
    if seen.reproducibility is not None:
        assert seen.reproducibility >= seen.repeatability
        assert seen.df_reproducibility > 0


def test_places_pool_by_their_degrees_of_freedom() -> None:
    """JCGM 100:2008, H.3.6 and 4.2.4: s_p^2 is the mean of s_i^2 weighted by n_i - 1."""
    first, second = [1.0, 1.2, 1.1], [7.0, 7.4]
    seen = repeatability([Series("a", "x", first), Series("b", "x", second)])
    pooled = (2 * np.var(first, ddof=1) + 1 * np.var(second, ddof=1)) / 3
    assert seen.scatter == pytest.approx(sqrt(pooled))
    assert seen.degrees_of_freedom == 3
    assert (seen.places, seen.operators, seen.readings) == (2, 1, 5)


def test_what_differs_between_vehicles_is_no_scatter() -> None:
    near = repeatability([Series("a", "x", [1.0, 1.1]), Series("b", "x", [1.0, 1.1])])
    far = repeatability([Series("a", "x", [1.0, 1.1]), Series("b", "x", [9.0, 9.1])])
    assert far.scatter == pytest.approx(near.scatter)


def test_operators_at_different_places_say_nothing_of_reproducibility() -> None:
    seen = repeatability([Series("a", "x", [1.0, 1.1]), Series("b", "y", [1.0, 1.1])])
    assert seen.precision.reproducibility is None
    assert seen.scatter == seen.precision.repeatability


def test_operators_that_share_a_place_give_a_reading_of_any_of_them() -> None:
    seen = repeatability([Series("a", "x", [1.0, 1.1]), Series("a", "y", [2.0, 2.1])])
    assert seen.precision.reproducibility is not None
    assert seen.scatter == seen.precision.reproducibility
    assert seen.scatter > seen.precision.repeatability


def test_two_operators_who_disagree_leave_hardly_more_than_one_degree_of_freedom() -> None:
    seen = repeatability([Series("a", "x", [1.0, 1.001]), Series("a", "y", [2.0, 2.001])])
    assert seen.degrees_of_freedom == pytest.approx(1.0, abs=1e-3)
    assert seen.coverage_factor == pytest.approx(12.706, abs=1e-3)


def test_an_operator_who_comes_back_to_a_place_is_one_operator() -> None:
    apart = repeatability([Series("a", "x", [1.0, 1.1]), Series("a", "x", [1.3, 1.2])])
    once = repeatability([Series("a", "x", [1.0, 1.1, 1.3, 1.2])])
    assert apart.precision == once.precision


def test_readings_that_never_differ_have_only_the_floor_of_their_scale() -> None:
    """JCGM 100:2008, F.2.2.1: a step of 1 gives 0.29."""
    seen = repeatability([Series("a", "x", [0.5, 0.5, 0.5])], resolution=1.0)
    assert seen.scatter == 0.0
    assert seen.floor == pytest.approx(0.29, abs=0.002)


def test_single_readings_are_refused() -> None:
    with pytest.raises(ValueError, match="nothing repeats"):
        repeatability([Series("a", "x", [1.0]), Series("b", "x", [1.0])])
    with pytest.raises(ValueError, match="no reading"):
        precision([[[]]])


def test_two_distances_tell_reading_and_aim_apart_exactly() -> None:
    reading, rehang = 0.4e-3, radians(0.02)
    spots = [(d, reading**2 + (rehang * d) ** 2, 8) for d in (2.0, 6.0)]
    split = split_by_distance(spots)
    assert split is not None
    assert split.reading == pytest.approx(reading, rel=1e-9)
    assert split.rehang == pytest.approx(rehang, rel=1e-9)


@settings(max_examples=50, deadline=None)
@given(
    st.floats(1e-4, 2e-3),
    st.floats(1e-5, 1e-3),
    st.lists(st.tuples(st.floats(1.0, 12.0), st.integers(1, 9)), min_size=3, max_size=6),
)
def test_variances_that_follow_the_law_are_split_into_its_parts(
    reading: float, rehang: float, places: list[tuple[float, int]]
) -> None:
    spots = [(d, reading**2 + (rehang * d) ** 2, df) for d, df in [*places, (1.0, 2), (12.0, 2)]]
    split = split_by_distance(spots)
    assert split is not None
    size = max(variance for _, variance, _ in spots)
    assert split.reading**2 == pytest.approx(reading**2, abs=1e-8 * size)
    assert (12 * split.rehang) ** 2 == pytest.approx((12 * rehang) ** 2, abs=1e-8 * size)


def test_scatter_that_does_not_grow_with_distance_has_no_re_hang_part() -> None:
    split = split_by_distance([(2.0, 4e-6, 5), (6.0, 1e-6, 5)])
    assert split is not None
    assert split.rehang == 0.0
    assert split.reading == pytest.approx(sqrt(2.5e-6))


def test_scatter_that_grows_faster_than_distance_is_all_re_hang() -> None:
    split = split_by_distance([(2.0, 1e-6, 5), (6.0, 36e-6, 5)])
    assert split is not None
    assert split.reading == 0.0
    assert split.rehang == pytest.approx(sqrt((1e-6 / 4 + 36e-6 / 36) / 2))


@pytest.mark.parametrize(
    "spots",
    [
        [],
        [(4.0, 1e-6, 5)],
        [(4.0, 1e-6, 5), (5.0, 2e-6, 5)],
        [(2.0, 0.0, 5), (6.0, 0.0, 5)],
        [(2.0, 1e-6, 5), (6.0, 2e-6, 0)],
    ],
)
def test_one_distance_or_no_scatter_tells_nothing_apart(
    spots: list[tuple[float, float, int]],
) -> None:
    assert split_by_distance(spots) is None


def hangings(rng: np.random.Generator, bias: float = 0.0) -> list[Series]:
    """Sightlines at 2 m and 6 m on many places by two operators: 1 mm and 0.02 degree."""
    series = []
    for place in range(200):
        distance = (2.0, 6.0)[place % 2]
        size = sqrt(1e-3**2 + (radians(0.02) * distance) ** 2)
        for operator in ("x", "y"):
            start = 0.1 + bias * size * rng.standard_normal()
            readings = start + size * rng.standard_normal(5)
            series.append(Series(place, operator, readings.tolist(), distance))
    return series


def test_simulated_hangings_give_back_the_reading_and_the_aim_they_were_made_with() -> None:
    """Within three standard deviations, 4 % and 3 %, that 800 degrees of freedom each leave."""
    seen = repeatability(hangings(np.random.default_rng(1)))
    assert seen.split is not None
    assert seen.split.reading == pytest.approx(1e-3, rel=0.12)
    assert seen.split.rehang == pytest.approx(radians(0.02), rel=0.1)


def test_operators_with_a_bias_of_their_own_widen_both_parts() -> None:
    seen = repeatability(hangings(np.random.default_rng(2), bias=1.0))
    assert seen.split is not None
    assert seen.split.reading == pytest.approx(sqrt(2) * 1e-3, rel=0.15)
    assert seen.split.rehang == pytest.approx(sqrt(2) * radians(0.02), rel=0.12)


def test_without_distances_nothing_is_split() -> None:
    series = [Series("a", "x", [1.0, 1.1]), Series("b", "x", [1.0, 1.3], 4.0)]
    assert repeatability(series).split is None


def test_a_standard_uncertainty_expanded_by_its_factor_covers_95_percent() -> None:
    """20 000 simulated shops with five repetitions each: 95 % lie within k times u (JCGM 100 G)."""
    rng = np.random.default_rng(3)
    inside = 0
    for readings in rng.standard_normal((20_000, 5)).tolist():
        seen = precision([[readings]])
        error = rng.standard_normal()
        inside += abs(error) <= coverage_factor(seen.df_repeatability) * seen.repeatability
    assert inside / 20_000 == pytest.approx(0.95, abs=0.006)


@pytest.mark.parametrize(("freedom", "probability"), [(0.5, 0.95), (5.0, 0.0), (5.0, 1.0)])
def test_a_coverage_factor_needs_a_degree_of_freedom_and_a_probability(
    freedom: float, probability: float
) -> None:
    with pytest.raises(ValueError, match=r"degrees of freedom|probability"):
        coverage_factor(freedom, probability)


def test_broken_degrees_of_freedom_are_cut_to_the_whole() -> None:
    """JCGM 100:2008, G.4.1: the next lower whole number."""
    assert coverage_factor(7.9) == coverage_factor(7)
