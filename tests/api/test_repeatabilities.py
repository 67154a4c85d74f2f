"""`POST /v1/repeatabilities` over the wire. Every reading here is invented, save where a source
stands beside it.
"""

import asyncio
import json
from typing import Any

import httpx
import pytest

from service.api.repeatabilities import evaluate_repeatability
from service.api.solutions import solve_vehicle
from service.app import create_app
from service.shipped import shipped

REQUEST = json.loads(shipped("openapi/examples/repeatability-request.json").read_text("utf-8"))
ANSWER = json.loads(shipped("openapi/examples/repeatability-answer.json").read_text("utf-8"))
SOLUTION = json.loads(shipped("openapi/examples/solution-request.json").read_text("utf-8"))


def post(body: Any, path: str = "/v1/repeatabilities") -> httpx.Response:
    async def answer() -> httpx.Response:
        app = create_app(routes=[evaluate_repeatability, solve_vehicle])
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://test") as client:
            return await client.post(path, json=body)

    return asyncio.run(answer())


def kinds(*series: dict[str, Any], unit: str = "mm", **extra: Any) -> list[dict[str, Any]]:
    response = post({"length_unit": unit, "series": list(series), **extra})
    assert response.status_code == 200, response.text
    found: list[dict[str, Any]] = response.json()["kinds"]
    return found


def faults(*series: dict[str, Any]) -> list[tuple[str, str]]:
    """Pointer and kind of every fault; every one has words and a hint."""
    response = post({"length_unit": "mm", "series": list(series)})
    assert response.status_code == 422, response.text
    errors = response.json()["errors"]
    assert all(error["detail"] and error["hint"] for error in errors)
    return [(error["pointer"], error["type"].removeprefix("/problems/")) for error in errors]


def gaps(*left: str, operator: str = "A", **extra: Any) -> dict[str, Any]:
    """Frame gaps of one side of one axle."""
    return {"kind": "frame_gap", "axle": 2, "operator": operator, "left": list(left), **extra}


def lines(distance: str | None, *left: str, operator: str = "A") -> dict[str, Any]:
    """Sightlines of one side of an axle."""
    series = {"kind": "sightline", "axle": 2, "operator": operator, "left": list(left)}
    return series if distance is None else {**series, "distance": distance}


def codes(kind: dict[str, Any]) -> list[str]:
    return [caution["code"] for caution in kind["cautions"]]


def ten_digits(text: str) -> Any:
    """JSON with its numbers cut to the digits that every machine's arithmetic agrees on."""
    return json.loads(text, parse_float=lambda number: float(f"{float(number):.10g}"))


def test_the_documented_request_has_the_documented_answer() -> None:
    response = post(REQUEST)
    assert response.status_code == 200, response.text
    answer = ten_digits(response.text)
    assert answer.pop("engine").startswith("axlewright ")
    expected = ten_digits(json.dumps(ANSWER))
    assert answer == {name: value for name, value in expected.items() if name != "engine"}


def test_the_documented_instruments_can_be_pasted_into_a_solution() -> None:
    instruments = [kind["instrument"] for kind in ANSWER["kinds"]]
    response = post({**SOLUTION, "instruments": instruments}, "/v1/solutions")
    assert response.status_code == 200, response.text


def test_a_shop_with_wider_scatter_gets_wider_results() -> None:
    coarse = kinds(gaps("760", "766", "772"), gaps("763", "761", "770", operator="B"))
    (instrument,) = [kind["instrument"] for kind in coarse]
    plain = post(SOLUTION, "/v1/solutions").json()
    wide = post({**SOLUTION, "instruments": [instrument]}, "/v1/solutions").json()
    axle = (1, "offset", "uncertainty")

    def of(answer: dict[str, Any]) -> float:
        place, quantity, field = axle
        size: float = answer["axles"][place][quantity][field]
        return size

    assert of(wide) > 3 * of(plain)


def test_the_temperatures_of_the_gum_come_out_whatever_the_unit() -> None:
    """JCGM 100:2008, 4.4.3: s 1.489 (from memory), here read as millimetres."""
    celsius = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
        100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ]  # fmt: skip
    texts = [f"{reading:.2f}" for reading in celsius]
    (kind,) = kinds(gaps(*texts))
    assert kind["uncertainty"] == {
        "value": pytest.approx(1.489, abs=5e-4),
        "unit": "mm",
        "text": "1.489 mm",
    }
    assert kind["degrees_of_freedom"] == 19
    assert kind["coverage_factor"] == pytest.approx(2.09, abs=5e-3)
    assert kind["instrument"] == {
        "kind": "frame_gap",
        "name": None,
        "uncertainty": "1.49 mm",
        "resolution": None,
        "rehang": None,
    }
    (inches,) = kinds(gaps(*(f"{text} mm" for text in texts)), unit="in")
    assert inches["uncertainty"]["value"] == pytest.approx(1.489 / 25.4, abs=2e-5)


def test_sides_vehicles_and_axles_are_places_of_their_own() -> None:
    both = {**gaps("700", "701"), "right": ["750", "751"]}
    (kind,) = kinds(both, gaps("800", "801", vehicle="other"), {**gaps("1", "2"), "axle": 3})
    assert kind["places"] == 4
    assert kind["uncertainty"]["value"] == pytest.approx(0.5**0.5)


def test_two_operators_at_one_place_tell_reproducibility() -> None:
    (kind,) = kinds(gaps("700", "701"), gaps("710", "711", operator="B"))
    assert kind["operators"] == 2
    assert kind["reproducibility"]["value"] > 5 * kind["repeatability"]["value"]
    assert kind["uncertainty"] == kind["reproducibility"]
    assert "one-operator" not in codes(kind)


def test_one_operator_is_told_what_is_missing() -> None:
    (kind,) = kinds(gaps("700", "701"))
    assert kind["reproducibility"] is None
    assert codes(kind) == ["one-operator", "few-repetitions"]
    assert "k = 12.71" in kind["cautions"][1]["text"]


def test_kinds_and_instruments_are_kept_apart() -> None:
    found = kinds(
        gaps("700", "701"),
        gaps("700", "702", instrument="long tape"),
        {"kind": "wheel_angle", "axle": 1, "operator": "A", "right": ["0.10", "0°9'"]},
    )
    assert [(kind["kind"], kind["instrument"]["name"]) for kind in found] == [
        ("frame_gap", None),
        ("frame_gap", "long tape"),
        ("wheel_angle", None),
    ]
    assert found[2]["uncertainty"]["unit"] == "deg"
    assert found[2]["uncertainty"]["value"] == pytest.approx(0.05 / 2**0.5)
    assert found[2]["instrument"]["uncertainty"] == "0.0354°"


def test_two_distances_tell_aim_from_reading() -> None:
    """By hand: variances 2 at 2 m and 18 at 6 m are reading^2 + D^2 aim^2 with reading 0."""
    (kind,) = kinds(lines("2 m", "99", "101"), lines("6 m", "97", "103"))
    assert kind["aim"]["reading"]["value"] == pytest.approx(0.0, abs=1e-6)
    assert kind["aim"]["rehang"]["value"] == pytest.approx(57.29578 * 2**0.5 / 2000, rel=1e-6)
    assert "reading-not-seen" in codes(kind)
    assert kind["instrument"]["uncertainty"] is None
    assert kind["instrument"]["rehang"] == "0.0405°"


def test_one_distance_puts_all_scatter_in_the_reading_and_none_in_the_aim() -> None:
    """Else a solution would add its default re-hang to a scatter that has it already."""
    (kind,) = kinds(lines("6 m", "97", "103"))
    assert kind["aim"] is None
    assert kind["instrument"]["rehang"] == "0"
    assert kind["instrument"]["uncertainty"] == "4.24 mm"
    assert "aim-not-told-apart" in codes(kind)


def test_scatter_below_the_step_of_the_scale_is_the_step_s() -> None:
    """JCGM 100:2008, F.2.2.1: 0.29 of the step."""
    (kind,) = kinds(gaps("700", "700", "700", resolution="1 mm"))
    assert kind["uncertainty"]["value"] == pytest.approx(0.29, abs=0.002)
    assert kind["instrument"]["uncertainty"] == "0.289 mm"
    assert "resolution-holds" in codes(kind)


@pytest.mark.parametrize("series", [gaps("700", "700"), lines("6 m", "700", "70 cm")])
def test_readings_that_never_differ_make_no_instrument(series: dict[str, Any]) -> None:
    (kind,) = kinds(series, {**series, "vehicle": "b"})
    assert kind["instrument"] is None
    assert "no-scatter" in codes(kind)


@pytest.mark.parametrize(
    "series",
    [
        gaps("700 mm", "700 in"),
        {"kind": "wedge", "axle": 1, "operator": "A", "left": ["-40", "40"]},
    ],
)
def test_repetitions_that_are_not_of_one_thing_make_no_instrument(series: dict[str, Any]) -> None:
    (kind,) = kinds(series)
    assert kind["instrument"] is None
    assert codes(kind)[0] == "wild-scatter"


def test_a_toe_scale_has_values_without_sides() -> None:
    (kind,) = kinds(
        {"kind": "toe_scale", "axle": 1, "operator": "A", "values": ["1/16 in", "3/32 in"]}
    )
    assert kind["uncertainty"]["value"] == pytest.approx(25.4 / 32 / 2**0.5)


def test_texts_can_be_left_out() -> None:
    (kind,) = kinds(gaps("700", "701"), text=False)
    assert kind["text"] == kind["uncertainty"]["text"] == ""


@pytest.mark.parametrize(
    ("series", "pointer", "kind"),
    [
        (gaps("700"), "#/series/0/left", "contract-broken"),
        (gaps("700", "x"), "#/series/0/left/1", "unreadable-text"),
        (gaps("700", "-701"), "#/series/0/left/1", "negative-tape-reading"),
        (gaps("700", "701", distance="6 m"), "#/series/0/distance", "contract-broken"),
        (lines("0", "700", "701"), "#/series/0/distance", "reading-impossible"),
        (lines("far", "700", "701"), "#/series/0/distance", "unreadable-text"),
        (gaps("700", "701", resolution="0"), "#/series/0/resolution", "reading-impossible"),
        (gaps("700", "701", resolution="fine"), "#/series/0/resolution", "unreadable-text"),
        (
            {"kind": "frame_gap", "axle": 2, "operator": "A"},
            "#/series/0",
            "contract-broken",
        ),
        (
            {"kind": "toe_scale", "axle": 1, "operator": "A", "values": ["0.1°", "1/16"]},
            "#/series/0/values/0",
            "contract-broken",
        ),
        (
            {"kind": "wedge", "axle": 1, "operator": "A", "left": ["2 mm", "2"]},
            "#/series/0/left/0",
            "unreadable-text",
        ),
        (
            {"kind": "wedge", "axle": 1, "operator": "A", "left": ["2", "46"]},
            "#/series/0/left/1",
            "reading-impossible",
        ),
    ],
)
def test_what_makes_no_sense_is_refused_at_its_place(
    series: dict[str, Any], pointer: str, kind: str
) -> None:
    assert (pointer, kind) in faults(series)


def test_an_instrument_of_two_kinds_is_refused_as_a_solution_would() -> None:
    second = {**lines("6 m", "700", "701"), "instrument": "tape"}
    assert faults(gaps("700", "701", instrument="tape"), second) == [
        ("#/series/1/instrument", "contract-broken")
    ]


def test_every_fault_of_a_body_is_named() -> None:
    assert [pointer for pointer, _ in faults(gaps("x", "y"), gaps("1", "z"))] == [
        "#/series/0/left/0",
        "#/series/0/left/1",
        "#/series/1/left/1",
    ]
