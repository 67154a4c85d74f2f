"""`/v1/conversions` over the wire: exact, both ways, its baseline named, its faults told."""

import json
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pint
import pytest
from asking import Answer, ask

from service.app import ROUTES, create_app
from service.contract.examples import examples_folder
from service.settings import Settings

APP = create_app(Settings(), ROUTES)
UNITS = pint.UnitRegistry()


def convert(what: str, **query: str) -> Answer:
    text = "&".join(f"{name}={quote(value)}" for name, value in query.items())
    return ask(APP, "GET", f"/v1/conversions/{what}", headers=[], query=text.encode())


def converted(what: str, **query: str) -> Any:
    answer = convert(what, **query)
    assert answer.status == 200, answer.body
    return answer.json


@pytest.mark.parametrize(
    ("text", "unit", "value", "name"),
    [
        ("31 3/4", "in", 31.75, "inch"),
        ("31-3/4 in", "mm", 31.75, "inch"),
        ("2' 7 3/4\"", "mm", 31.75, "inch"),
        ("806.5", "mm", 806.5, "millimeter"),
        ("80.65", "cm", 80.65, "centimeter"),
        ("-1/16", "in", -0.0625, "inch"),
    ],
)
def test_a_length_in_every_unit_is_what_pint_makes_of_it(
    text: str, unit: str, value: float, name: str
) -> None:
    """Reference: pint's definitions of the units."""
    figures = converted("length", value=text, unit=unit)["length"]
    quantity = value * UNITS(name)
    for field in ("inch", "foot", "mm", "cm", "m"):
        assert figures[field] == pytest.approx(quantity.m_as(field), rel=1e-12)


def test_a_length_without_a_unit_is_in_inches() -> None:
    assert converted("length", value="1")["length"]["mm"] == 25.4


def test_a_toe_in_length_is_answered_in_every_way_with_its_baseline() -> None:
    toe = converted("toe", value="1/16", unit="in", baseline="40.2")
    assert toe["total"]["inch"] == 0.0625
    assert toe["total"]["mm"] == 1.5875
    assert toe["total"]["mm_per_m"] == pytest.approx(62.5 / 40.2, rel=1e-12)
    assert toe["total"]["deg"] == pytest.approx(0.0890792, abs=5e-8)
    assert toe["baseline"]["inch"] == 40.2


def test_each_wheel_has_half_the_angle_of_the_total() -> None:
    toe = converted("toe", value="1/16", baseline="40.2")
    assert toe["each_wheel"]["deg"] == pytest.approx(toe["total"]["deg"] / 2, rel=1e-12)


def test_a_toe_of_one_wheel_is_half_of_its_total() -> None:
    one = converted("toe", value="0.05°", share="one_wheel")
    assert (one["each_wheel"]["deg"], one["total"]["deg"]) == (0.05, 0.1)


@pytest.mark.parametrize(
    ("value", "field", "number"),
    [("0.09°", "deg", 0.09), ("1.5 mm/m", "mm_per_m", 1.5), ("0°15'", "deg", 0.25)],
)
def test_a_toe_that_carries_its_unit_needs_no_baseline(
    value: str, field: str, number: float
) -> None:
    toe = converted("toe", value=value)
    assert toe["total"][field] == pytest.approx(number, rel=1e-12)
    assert toe["total"]["inch"] is None
    assert toe["baseline"] is None


@pytest.mark.parametrize("field", ["deg", "mm_per_m", "inch", "mm"])
def test_a_toe_converted_and_converted_back_is_itself(field: str) -> None:
    toe = converted("toe", value="-3/32", baseline="1021 mm")["total"]
    mark = {"deg": "°", "mm_per_m": " mm/m", "inch": " in", "mm": " mm"}[field]
    back = converted("toe", value=f"{toe[field]:.15f}{mark}", baseline="1021 mm")["total"]
    assert back == pytest.approx(toe, rel=1e-12)


def test_a_thrust_of_two_inches_in_181_is_0_633_degrees() -> None:
    thrust = converted("thrust", value="2", unit="in", length="181")
    assert thrust["thrust"]["deg"] == pytest.approx(0.633077, abs=5e-7)
    assert thrust["length"]["inch"] == 181


def test_a_thrust_reads_as_twice_its_length_from_side_to_side() -> None:
    assert converted("thrust", value="2", length="181")["difference"]["inch"] == 4


def test_a_thrust_may_be_given_as_the_difference_it_reads_as() -> None:
    thrust = converted("thrust", value="4", length="181", reading="difference")
    assert thrust["thrust"] == converted("thrust", value="2", length="181")["thrust"]


def test_an_offset_and_its_side_to_side_difference_convert_both_ways() -> None:
    there = converted("offset", value="1/8")
    assert (there["offset"]["inch"], there["difference"]["inch"]) == (0.125, 0.25)
    assert converted("offset", value="1/4", reading="difference") == there


def test_a_setback_and_its_angle_convert_both_ways() -> None:
    there = converted("setback", value="1/16", spread="33 1/2")
    back = converted("setback", value=f"{there['skew_deg']:.15f}°", spread="33 1/2")
    assert back["setback"] == pytest.approx(there["setback"], rel=1e-12)


REFUSED = {
    "toe without a baseline": ("toe", {"value": "1/16"}, 422, "baseline-missing", "?baseline"),
    "thrust without a length": ("thrust", {"value": "2"}, 422, "baseline-missing", "?length"),
    "a difference without a length": (
        "thrust", {"value": "2", "reading": "difference"}, 422, "baseline-missing", "?length"
    ),
    "a decimal comma": ("length", {"value": "31,75"}, 422, "unreadable-text", "?value"),
    "a word": ("toe", {"value": "much"}, 422, "unreadable-text", "?value"),
    "an angle for a length": ("length", {"value": "1°"}, 422, "unreadable-text", "?value"),
    "a slope for a setback": (
        "setback", {"value": "1 mm/m", "spread": "34"}, 422, "unreadable-text", "?value"
    ),
    "a negative baseline": (
        "toe", {"value": "1/16", "baseline": "-40"}, 422, "negative-tape-reading", "?baseline"
    ),
    "no baseline at all": (
        "toe", {"value": "1/16", "baseline": "0"}, 422, "reading-impossible", "?baseline"
    ),
    "a setback over its spread": (
        "setback", {"value": "5", "spread": "1"}, 422, "reading-impossible", "?value"
    ),
    "another unit": ("length", {"value": "1", "unit": "ft"}, 400, "bad-query", "?unit"),
    "a text too long": ("length", {"value": "1" * 41}, 400, "bad-query", "?value"),
    "an empty text": ("length", {"value": ""}, 400, "bad-query", "?value"),
    "nothing": ("setback", {"value": "1"}, 400, "bad-query", "?spread"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_converted_is_told_by_parameter_and_with_a_hint(name: str) -> None:
    what, query, status, slug, pointer = REFUSED[name]
    answer = convert(what, **query)
    assert (answer.status, answer.slug, answer.pointers) == (status, slug, [pointer])
    assert answer.json["errors"][0]["hint"]


def test_every_fault_of_a_query_is_told() -> None:
    answer = convert("toe", value="x", baseline="y")
    assert answer.pointers == ["?value", "?baseline"]


EXAMPLES = {
    "toe-conversion.json": "toe?value=1/16&baseline=40.2",
    "thrust-conversion.json": "thrust?value=2&length=181",
    "length-conversion.json": "length?value=31+3/4",
    "offset-conversion.json": "offset?value=1/8",
    "setback-conversion.json": "setback?value=1/16&spread=33+1/2",
}


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_documented_example_is_what_is_answered(name: str) -> None:
    what, _, query = EXAMPLES[name].partition("?")
    answer = ask(APP, "GET", f"/v1/conversions/{what}", headers=[], query=query.encode())
    assert json.loads((Path(examples_folder()) / name).read_bytes()) == answer.json


@pytest.mark.parametrize(
    ("what", "query", "pointer"),
    [
        ("thrust", {"value": "2", "length": "0"}, "?length"),
        ("toe", {"value": "0.1", "baseline": "0", "unit": "mm"}, "?baseline"),
        ("setback", {"value": "1", "spread": "0"}, "?spread"),
    ],
)
def test_a_length_of_nothing_is_refused_without_a_unit_that_nobody_sent(
    what: str, query: dict[str, str], pointer: str
) -> None:
    [error] = convert(what, **query).json["errors"]
    assert error["pointer"] == pointer
    assert error["detail"] == f"{pointer[1:]} has to be more than nothing."
    assert error["hint"] == "Give a length greater than 0."


def test_a_setback_over_its_spread_is_refused_without_metres_too() -> None:
    [error] = convert("setback", value="40", spread="1").json["errors"]
    assert error["detail"] == "value is not smaller than the spread it is taken over."
