"""What a verdict says of an estimate and its limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.verdict import conformance_probability, verdict, within

# Invented numbers throughout, unless a source stands beside them.
VALUES = st.floats(-10.0, 10.0)
UNCERTAINTIES = st.floats(1e-6, 10.0)
SIXTEENTH = 0.0254 / 16


def test_a_value_on_a_lone_limit_conforms_with_probability_one_half() -> None:
    assert conformance_probability(0.25, 0.1, None, 0.25) == 0.5
    assert conformance_probability(0.25, 0.1, 0.25, None) == 0.5


def test_open_limits_always_conform() -> None:
    assert conformance_probability(1e9, 1.0, None, None) == 1.0


@pytest.mark.parametrize(
    ("value", "probability"), [(-0.11, 0.0), (-0.1, 1.0), (0.0, 1.0), (0.1, 1.0), (0.11, 0.0)]
)
def test_no_uncertainty_gives_the_plain_step_with_its_limits_inside(
    value: float, probability: float
) -> None:
    assert conformance_probability(value, 0.0, -0.1, 0.1) == probability


def test_the_smallest_uncertainty_there_is_still_gives_one_half_on_the_limit() -> None:
    assert conformance_probability(0.1, 5e-324, None, 0.1) == 0.5
    assert conformance_probability(0.1, 5e-324, 0.0, 0.1) == 0.5


@pytest.mark.parametrize("uncertainty", [-1e-9, -math.inf, math.nan])
def test_an_uncertainty_that_is_none_is_refused(uncertainty: float) -> None:
    with pytest.raises(ValueError, match="standard uncertainty"):
        conformance_probability(0.0, uncertainty, -1.0, 1.0)


@given(VALUES, UNCERTAINTIES, VALUES, VALUES)
def test_a_mirrored_estimate_conforms_exactly_as_well(
    value: float, uncertainty: float, one: float, other: float
) -> None:
    lower, upper = sorted((one, other))
    assert conformance_probability(value, uncertainty, lower, upper) == conformance_probability(
        -value, uncertainty, -upper, -lower
    )


@given(VALUES, UNCERTAINTIES, VALUES)
def test_below_and_above_one_limit_share_the_whole_probability(
    value: float, uncertainty: float, limit: float
) -> None:
    below = conformance_probability(value, uncertainty, None, limit)
    above = conformance_probability(value, uncertainty, limit, None)
    assert below + above == pytest.approx(1.0, abs=1e-15)


@given(VALUES, UNCERTAINTIES, VALUES, VALUES, st.floats(0.0, 5.0))
def test_wider_limits_never_make_conformance_less_probable(
    value: float, uncertainty: float, one: float, other: float, more: float
) -> None:
    lower, upper = sorted((one, other))
    narrow = conformance_probability(value, uncertainty, lower, upper)
    wide = conformance_probability(value, uncertainty, lower - more, upper + more)
    assert 0.0 <= narrow <= wide + 1e-15
    assert wide <= 1.0


@pytest.mark.parametrize(
    ("probability", "state"),
    [
        (1.0, "conforming"),
        (0.95, "conforming"),
        (0.9499, "undetermined"),
        (0.5, "undetermined"),
        (0.0501, "undetermined"),
        (0.05, "nonconforming"),
        (0.0, "nonconforming"),
    ],
)
def test_the_guarded_rule_decides_by_probability_alone(probability: float, state: str) -> None:
    # The value lies far outside: only the probability may count.
    assert verdict(probability, 9.0, -0.1, 0.1, "guarded") == state


@pytest.mark.parametrize(
    ("value", "state"),
    [(-0.1001, "nonconforming"), (-0.1, "conforming"), (0.1, "conforming"), (0.2, "nonconforming")],
)
def test_the_simple_rule_decides_by_the_value_alone(value: float, state: str) -> None:
    assert verdict(0.5, value, -0.1, 0.1, "simple") == state


def test_a_reading_exactly_on_its_limit_is_within_it_however_it_was_summed() -> None:
    # 24 1/8 in less 24 1/16 in, in metres, comes out above 1/16 in by rounding alone.
    difference = 24.125 * 0.0254 - 24.0625 * 0.0254
    assert difference != SIXTEENTH
    assert within(difference, -SIXTEENTH, SIXTEENTH)
    assert within(-difference, -SIXTEENTH, SIXTEENTH)
    assert not within(SIXTEENTH + 1e-9, -SIXTEENTH, SIXTEENTH)


def test_another_decision_rule_is_refused_with_the_two_there_are() -> None:
    with pytest.raises(ValueError, match="'guarded' or 'simple'"):
        verdict(0.99, 0.0, -0.1, 0.1, "strict")
