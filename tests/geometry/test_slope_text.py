"""Cross-slopes as people write them."""

from math import atan

import pytest

from service.geometry.quantity import QuantityError
from service.geometry.slope_text import parse_cross_slope


@pytest.mark.parametrize(
    ("text", "percent"),
    [("2 %", 2.0), ("2%", 2.0), (" +1.5 % ", 1.5), ("-2 %", -2.0), ("−0.5%", -0.5), ("20%", 20.0)],
)
def test_percent_is_fall_over_width_and_positive_to_the_right(text: str, percent: float) -> None:
    assert parse_cross_slope(text) == pytest.approx(atan(percent / 100), rel=1e-15)


@pytest.mark.parametrize(
    "text", ["2", "", "%", "2 deg", "1/50", "2,5 %", "- -2 %", "2 % %", "NaN%"]
)
def test_a_slope_without_a_percent_sign_is_told_how_to_be_written(text: str) -> None:
    with pytest.raises(QuantityError, match="is no cross-slope") as refusal:
        parse_cross_slope(text)
    assert "“2 %”" in refusal.value.hint


def test_a_slope_that_no_road_has_is_refused() -> None:
    with pytest.raises(QuantityError, match="steeper than 20 %"):
        parse_cross_slope("20.01 %")
    with pytest.raises(QuantityError, match="no cross-slope"):
        parse_cross_slope("2" * 50 + "%")
