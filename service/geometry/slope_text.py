"""Cross-slopes of a road as people write them, in percent, to radians."""

import re
from math import atan

from service.geometry.quantity import LONGEST_TEXT, QuantityError, quoted, ratio
from service.geometry.spelling import SIGN, SPACE

STEEPEST_PERCENT = 20

_SLOPE = rf"{SPACE}*(?P<sign>{SIGN})?{SPACE}*(?P<number>[0-9]+(?:\.[0-9]+)?){SPACE}*%{SPACE}*"
_match = re.compile(_SLOPE).fullmatch


def parse_cross_slope(text: str) -> float:
    """The slope's angle in radians, positive where the road falls to the right.

    The text is a number with a percent sign, always: without one, degrees could be meant. Raises
    QuantityError for anything else and beyond 20 %.
    """
    match = None if len(text) > LONGEST_TEXT else _match(text)
    if match is None:
        raise QuantityError(
            f"{quoted(text)} is no cross-slope",
            "write percent with its sign, as in “2 %” where the road falls to the right "
            "and “-2 %” where it falls to the left",
        )
    numerator, denominator = ratio(match["number"], text)
    if numerator > STEEPEST_PERCENT * denominator:
        raise QuantityError(
            f"{quoted(text)} is steeper than {STEEPEST_PERCENT} %",
            "roads fall 1 to 10 % across; write the slope in percent, as in “2 %”",
        )
    percent = numerator / denominator
    return atan(-percent / 100 if match["sign"] not in (None, "+") else percent / 100)
