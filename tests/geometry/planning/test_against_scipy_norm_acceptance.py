"""Acceptance intervals against scipy.stats.norm: 0.95 at their edges (JCGM 106)."""

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.stats import norm

from service.geometry.planning.acceptance import acceptance

WIDTHS = st.floats(-6, 1).map(lambda power: 10.0**power)
RATIOS = st.floats(0.26, 200)
"""Width of the limits in standard uncertainties, from where 0.95 can hardly be reached."""


def probability(value: float, lower: float, upper: float, u: float) -> float:
    """Probability that a quantity known as `value` lies in the limits."""
    return float(norm.cdf((upper - value) / u) - norm.cdf((lower - value) / u))


@given(lower=st.floats(-0.1, 0.1), width=WIDTHS, ratio=RATIOS)
@example(lower=0.0625, width=1e-6, ratio=178.75)
def test_at_both_edges_the_probability_is_95_percent(
    lower: float, width: float, ratio: float
) -> None:
    upper, u = lower + width, width / ratio
    found = acceptance(lower, upper, u, "guarded")
    best = probability((lower + upper) / 2, lower, upper, u)
    assert found.sure == (best >= 0.95)
    if found.sure and best > 0.9501:
        for edge in (found.lower, found.upper):
            assert probability(edge, lower, upper, u) == pytest.approx(0.95, abs=2e-8)
            # The edge itself is a number of so many digits: where those end, it may lie outside.
            rounding = math.ulp(edge) / u
            assert probability(edge, lower, upper, u) >= 0.95 - 1e-12 - rounding
        assert lower < found.lower < found.upper < upper


@given(limit=st.floats(-0.1, 0.1), u=st.floats(1e-6, 1e-2))
def test_one_open_side_leaves_one_edge(limit: float, u: float) -> None:
    above = acceptance(limit, None, u, "guarded")
    below = acceptance(None, limit, u, "guarded")
    assert above.upper == math.inf
    assert below.lower == -math.inf
    assert norm.sf((limit - above.lower) / u) == pytest.approx(0.95, abs=1e-9)
    assert norm.cdf((limit - below.upper) / u) == pytest.approx(0.95, abs=1e-9)
    assert above.sure
    assert below.sure


@given(lower=st.floats(-1, 0), upper=st.floats(0, 1), u=st.floats(0, 1))
def test_the_simple_rule_takes_the_limits_as_they_are(lower: float, upper: float, u: float) -> None:
    assert acceptance(lower, upper, u, "simple") == (lower, upper, True)


def test_without_uncertainty_the_limits_are_the_edges() -> None:
    assert acceptance(-0.1, 0.3, 0.0, "guarded") == (-0.1, 0.3, True)


def test_an_uncertainty_too_large_for_the_limits_leaves_no_sure_value() -> None:
    """norm: a normal law holds 95 % within 1.96 of its standard uncertainties either way."""
    half = 1.0
    assert acceptance(-half, half, half / norm.ppf(0.975) * 0.999, "guarded").sure
    found = acceptance(-half, half, half / norm.ppf(0.975) * 1.001, "guarded")
    assert not found.sure
    assert (found.lower, found.upper) == (-half / 2, half / 2)
