"""Conformance probability against scipy.stats.norm and the worked examples of JCGM 106:2012."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from service.geometry.verdict import conformance_probability, verdict

UNCERTAINTIES = st.floats(1e-6, 10.0)
# 37.5 standard uncertainties out the area is about 5e-308, the last that has all its digits.
TAIL = st.floats(-37.5, 37.5)


@settings(max_examples=500)
@given(TAIL, UNCERTAINTIES, st.floats(-5.0, 5.0))
def test_one_limit_agrees_with_scipy_far_into_both_tails(
    distance: float, uncertainty: float, value: float
) -> None:
    limit = value + distance * uncertainty
    below = norm.cdf((limit - value) / uncertainty)
    above = norm.sf((limit - value) / uncertainty)
    assert conformance_probability(value, uncertainty, None, limit) == pytest.approx(
        below, rel=1e-12, abs=1e-307
    )
    assert conformance_probability(value, uncertainty, limit, None) == pytest.approx(
        above, rel=1e-12, abs=1e-307
    )


@settings(max_examples=500)
@given(st.floats(0.0, 36.0), st.floats(0.5, 20.0), UNCERTAINTIES)
def test_two_limits_in_one_tail_agree_with_scipy(
    near: float, width: float, uncertainty: float
) -> None:
    lower, upper = near * uncertainty, (near + width) * uncertainty
    expected = norm.sf(lower / uncertainty) - norm.sf(upper / uncertainty)
    assert conformance_probability(0.0, uncertainty, lower, upper) == pytest.approx(
        expected, rel=1e-12, abs=1e-307
    )
    assert conformance_probability(0.0, uncertainty, -upper, -lower) == pytest.approx(
        expected, rel=1e-12, abs=1e-307
    )


@settings(max_examples=200)
@given(st.floats(-8.0, 0.0), st.floats(0.0, 8.0), UNCERTAINTIES)
def test_limits_to_both_sides_agree_with_scipy(
    below: float, above: float, uncertainty: float
) -> None:
    expected = norm.cdf(above) - norm.cdf(below)
    got = conformance_probability(0.0, uncertainty, below * uncertainty, above * uncertainty)
    assert got == pytest.approx(expected, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("half_width", [1e-3, 1e-6, 1e-9, 1e-12])
def test_limits_narrow_beside_the_uncertainty_keep_their_digits(half_width: float) -> None:
    # Over so short a way the density is flat: width times density (scipy.stats.norm.pdf).
    got = conformance_probability(0.0, 1.0, -half_width, half_width)
    assert got == pytest.approx(2.0 * half_width * norm.pdf(0.0), rel=max(1e-12, half_width**2))


@pytest.mark.parametrize(("lower", "upper"), [(-1.0, 2.0), (0.5, 1.5), (-3.0, -0.2)])
def test_the_probability_is_the_area_under_the_density(lower: float, upper: float) -> None:
    area, _ = quad(lambda x: norm.pdf(x, loc=0.3, scale=0.7), lower, upper, epsabs=1e-13)
    assert conformance_probability(0.3, 0.7, lower, upper) == pytest.approx(area, abs=1e-12)


# JCGM 106:2012, worked examples of clauses 7.3 and 7.4. Numbers and clauses from memory.
JCGM_106_EXAMPLES = [
    pytest.param(-5.47, 0.05, None, -5.40, 0.92, id="breakdown voltage of a Zener diode, V"),
    pytest.param(509.7, 8.6, 490.0, None, 0.99, id="burst strength of a container, kPa"),
    pytest.param(13.6, 1.8, 12.5, 16.3, 0.66, id="viscosity of SAE grade 40 oil, mm2/s"),
]


@pytest.mark.parametrize(("value", "uncertainty", "lower", "upper", "printed"), JCGM_106_EXAMPLES)
def test_the_worked_examples_of_jcgm_106_come_out_as_printed(
    value: float, uncertainty: float, lower: float | None, upper: float | None, printed: float
) -> None:
    assert round(conformance_probability(value, uncertainty, lower, upper), 2) == printed


def test_the_guarded_rule_turns_at_the_95_percent_quantile_of_the_normal_law() -> None:
    # Guard band of one limit: scipy's quantile of 95 %, 1.6449 standard uncertainties.
    guard = norm.ppf(0.95)
    for distance, state in [(guard + 1e-6, "conforming"), (guard - 1e-6, "undetermined")]:
        value = -distance
        probability = conformance_probability(value, 1.0, None, 0.0)
        assert verdict(probability, value, None, 0.0, "guarded") == state
    for distance, state in [(guard + 1e-6, "nonconforming"), (guard - 1e-6, "undetermined")]:
        probability = conformance_probability(distance, 1.0, None, 0.0)
        assert verdict(probability, distance, None, 0.0, "guarded") == state
