"""`POST /v1/straight-runnings` over the wire. Every vehicle here is invented."""

import asyncio
import json
from typing import Any

import httpx
import pytest

from service.api.straight_runnings import find_straight_running
from service.app import create_app
from service.shipped import shipped

REQUEST = json.loads(shipped("openapi/examples/straight-running-request.json").read_text("utf-8"))
ANSWER = json.loads(shipped("openapi/examples/straight-running-answer.json").read_text("utf-8"))


def post(body: Any) -> httpx.Response:
    async def answer() -> httpx.Response:
        transport = httpx.ASGITransport(app=create_app(routes=[find_straight_running]))
        async with httpx.AsyncClient(transport=transport, base_url="http://test") as client:
            return await client.post("/v1/straight-runnings", json=body)

    return asyncio.run(answer())


def solved(body: Any) -> dict[str, Any]:
    response = post(body)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


def faults(body: Any) -> list[tuple[str, str]]:
    """Pointer and kind of every fault of a refused body; every one has words and a hint."""
    response = post(body)
    assert response.status_code == 422, response.text
    assert response.headers["content-type"] == "application/problem+json"
    errors = response.json()["errors"]
    assert all(error["detail"] and error["hint"] for error in errors)
    return [(error["pointer"], error["type"].removeprefix("/problems/")) for error in errors]


def tractor(*thrusts: str, **extra: Any) -> dict[str, Any]:
    """A tractor with a tandem; the thrusts of its drive axles."""
    places = ("174", "226")
    axles = [{"number": 1, "role": "steer", "distance": "0"}]
    axles += [
        {"number": i + 2, "role": "drive", "distance": place, "thrust": thrust}
        for i, (place, thrust) in enumerate(zip(places, thrusts, strict=True))
    ]
    return {"length_unit": "in", "vehicle": {"unit": "tractor", "axles": axles}, **extra}


def loaded(body: dict[str, Any], *loads: float, unit: str = "lb") -> dict[str, Any]:
    """The same request with axle loads."""
    for axle, load in zip(body["vehicle"]["axles"], loads, strict=True):
        axle["load"] = load
    return {**body, "load_unit": unit}


def trailer(*thrusts: str, **extra: Any) -> dict[str, Any]:
    """A trailer with its axles from 480 in behind the kingpin."""
    axles = [
        {"number": i + 1, "role": "trailer", "distance": str(480 + 49 * i), "thrust": thrust}
        for i, thrust in enumerate(thrusts)
    ]
    return {"length_unit": "in", "vehicle": {"unit": "trailer", "axles": axles}, **extra}


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


def test_the_documented_slope_adds_its_share_of_the_load_to_every_tyre() -> None:
    """Stiffness goes with load, so that 2 % over 15 % a degree is one slip for all: 0.1333."""
    level = {name: value for name, value in REQUEST.items() if name != "cross_slope"}
    sloped, flat = solved(REQUEST), solved(level)
    for here, there in zip(sloped["axles"], flat["axles"], strict=True):
        more = here["slip"]["value"] - there["slip"]["value"]
        assert more == pytest.approx(-2 / 15, rel=3e-4)


def test_pure_thrust_makes_the_nose_point_left_and_the_driver_hold_right() -> None:
    answer = solved(tractor("0.1", "0.1", steering_ratio=20))
    assert answer["crab"] == {"value": -0.1, "unit": "deg", "text": "0.10° left"}
    assert answer["steer"]["value"] == pytest.approx(0.1)
    assert answer["hold"] == {
        "side": "right",
        "text": "The driver holds the steering wheel 2.0° to the right.",
    }
    assert answer["text"].startswith("The frame points 0.10° to the left of its path. The driver")


def test_without_a_steering_ratio_the_hold_is_told_at_the_front_wheels() -> None:
    answer = solved(tractor("0.1", "0.1"))
    assert answer["steering_wheel"] is None
    assert answer["hold"]["text"] == "The driver holds the front wheels 0.10° to the right."


def test_a_straight_vehicle_runs_true_and_needs_no_hold() -> None:
    answer = solved(tractor("0", "0"))
    assert answer["text"] == "The frame runs true. No hold needed."
    assert answer["crab"]["text"] == "0.00°"


def test_the_equivalent_wheelbase_of_a_tandem_is_that_of_the_formula() -> None:
    """L 200, s 26, rear over front stiffness 4: 216.90 in (derived, see the geometry tests)."""
    body = tractor("0", "0", load_unit="lb")
    for axle, stiffness in zip(body["vehicle"]["axles"], (1000, 2000, 2000), strict=True):
        axle["cornering_stiffness"] = stiffness
    figure = solved(body)["equivalent_wheelbase"]
    assert figure["value"] == pytest.approx(216.90, abs=0.005)
    assert figure["unit"] == "in"


def test_without_loads_there_are_angles_and_no_forces() -> None:
    answer = solved(tractor("0.1", "0", speed=65, speed_unit="mph"))
    assert [one["id"] for one in answer["assumptions"]] == ["usual-loads", "steered-straight-1"]
    assert answer["drag_force"] is None
    assert answer["drag_power"] is None
    for axle in answer["axles"]:
        assert axle["side_force"] is None
        assert axle["cornering_stiffness"] is None
        assert axle["slip"]["value"] != 0.0


def test_a_stiffness_is_the_side_force_of_the_axle_at_one_degree() -> None:
    body = loaded(tractor("0.1", "0"), 12_000, 17_000, 17_000)
    answer = solved({**body, "stiffness_per_degree": 0.2})
    assert [axle["cornering_stiffness"]["value"] for axle in answer["axles"]] == [2400, 3400, 3400]
    assert answer["axles"][0]["cornering_stiffness"]["unit"] == "lbf/deg"
    for axle in answer["axles"]:
        push = axle["cornering_stiffness"]["value"] * axle["slip"]["value"]
        assert axle["side_force"]["value"] == pytest.approx(push)


def test_loads_in_kilograms_answer_forces_in_newtons() -> None:
    pounds = solved(loaded(tractor("0.1", "0"), 12_000, 17_000, 17_000))
    kilograms = [load * 0.45359237 for load in (12_000, 17_000, 17_000)]
    newtons = solved(loaded(tractor("0.1", "0"), *kilograms, unit="kg"))
    assert newtons["drag_force"]["unit"] == "N"
    assert newtons["drag_force"]["value"] == pytest.approx(
        pounds["drag_force"]["value"] * 4.4482216152605
    )


def test_bias_tyres_are_softer_than_radial_ones() -> None:
    body = loaded(tractor("0.1", "0"), 12_000, 17_000, 17_000)
    assert solved({**body, "tyres": "bias"})["axles"][0]["cornering_stiffness"]["value"] == 1440


def test_drag_power_is_force_times_speed() -> None:
    body = loaded(tractor("0.1", "-0.1"), 12_000, 17_000, 17_000, unit="kg")
    answer = solved({**body, "speed": 90, "speed_unit": "km/h"})
    assert answer["drag_power"]["value"] == pytest.approx(25 * answer["drag_force"]["value"])


def test_a_trailer_is_held_by_its_kingpin_and_by_no_driver() -> None:
    answer = solved(loaded(trailer("0.1", "-0.1"), 17_000, 17_000))
    assert answer["hold"] is None
    assert answer["steer"] is None
    assert answer["hitch_force"]["value"] < 0.0
    assert answer["hitch_force"]["text"].endswith("lbf left")
    forces = [axle["side_force"]["value"] for axle in answer["axles"]]
    assert answer["hitch_force"]["value"] + sum(forces) == pytest.approx(0.0, abs=1e-6)


def test_a_trailer_on_a_slope_leans_on_its_kingpin_by_what_rests_there() -> None:
    """Statics: the kingpin takes the slope's share of its own load, the axles that of theirs."""
    body = loaded(trailer("0", "0"), 17_000, 17_000)
    answer = solved({**body, "cross_slope": "2 %", "hitch_load": 30_000})
    assert answer["hitch_force"]["value"] == pytest.approx(-0.02 * 30_000, rel=1e-3)


def test_weight_and_its_place_may_be_given_instead_of_loads() -> None:
    body = tractor("0", "0", load_unit="lb", cross_slope="-2 %", weight=46_000)
    for axle in body["vehicle"]["axles"]:
        axle["cornering_stiffness"] = 2000
    answer = solved({**body, "centre_of_gravity": "133 1/3"})
    forces = [axle["side_force"]["value"] for axle in answer["axles"]]
    assert sum(forces) == pytest.approx(0.02 * 46_000, rel=1e-3)
    assert answer["assumptions"] == [
        one for one in answer["assumptions"] if one["id"] != "weight-of-loads"
    ]


def test_millimetres_and_inches_give_the_same_angles() -> None:
    inches = solved(tractor("0.1", "-0.05"))
    body = tractor("0.1", "-0.05")
    for axle in body["vehicle"]["axles"]:
        axle["distance"] = f"{float(axle['distance']) * 25.4:.4f}"
    metric = solved({**body, "length_unit": "mm"})
    assert metric["crab"]["value"] == pytest.approx(inches["crab"]["value"], abs=1e-11)
    assert metric["turn"]["value"] == pytest.approx(inches["turn"]["value"], abs=1e-11)


def test_a_steering_tag_axle_takes_its_ratio() -> None:
    body = tractor("0.1", "0.1")
    body["vehicle"]["axles"].append(
        {"number": 4, "role": "tag", "distance": "280", "thrust": "0", "steered": True,
         "steer_ratio": -0.5}
    )  # fmt: skip
    answer = solved(body)
    aim, turn = answer["axles"][3]["aim"]["value"], answer["turn"]["value"]
    assert aim == pytest.approx(-0.5 * turn)


def test_slip_beyond_three_degrees_is_cautioned() -> None:
    answer = solved(tractor("5", "-5"))
    assert {caution["code"] for caution in answer["cautions"]} == {"slip-beyond-linear"}
    assert answer["cautions"][0]["pointer"].startswith("#/vehicle/axles/")


def test_texts_can_be_left_out() -> None:
    answer = solved({**REQUEST, "text": False})
    assert answer["text"] == answer["hold"]["text"] == answer["crab"]["text"] == ""
    assert answer["crab"]["value"] == ANSWER["crab"]["value"]


def without_steer(body: dict[str, Any]) -> dict[str, Any]:
    body["vehicle"]["axles"][0] |= {"role": "pusher", "thrust": "0"}
    return body


def with_axle(body: dict[str, Any], place: int, **fields: Any) -> dict[str, Any]:
    body["vehicle"]["axles"][place] |= fields
    return body


BAD = [
    (without_steer(tractor("0", "0")), "#/vehicle/axles", "contract-broken"),
    (with_axle(trailer("0"), 0, role="steer"), "#/vehicle/axles/0/role", "contract-broken"),
    (with_axle(trailer("0"), 0, steered=True), "#/vehicle/axles/0/steered", "contract-broken"),
    (
        with_axle(tractor("0", "0"), 1, steer_ratio=0.5),
        "#/vehicle/axles/1/steer_ratio",
        "contract-broken",
    ),
    (
        with_axle(tractor("0", "0"), 0, steer_ratio=0.5),
        "#/vehicle/axles/0/steer_ratio",
        "contract-broken",
    ),
    (with_axle(tractor("0", "0"), 2, thrust=None), "#/vehicle/axles/2/thrust", "contract-broken"),
    (with_axle(tractor("0", "0"), 2, thrust="x"), "#/vehicle/axles/2/thrust", "unreadable-text"),
    (
        with_axle(tractor("0", "0"), 2, thrust="50"),
        "#/vehicle/axles/2/thrust",
        "reading-impossible",
    ),
    (tractor("0", "0", weight=4), "#/load_unit", "contract-broken"),
    (tractor("0", "0", speed=65), "#/speed_unit", "contract-broken"),
    (
        with_axle(tractor("0", "0", load_unit="kg"), 1, load=5000)
        | {"vehicle": with_axle(tractor("0", "0"), 1, load=5000)["vehicle"]},
        "#/vehicle/axles/0/load",
        "contract-broken",
    ),
    (tractor("0", "0", cross_slope="2"), "#/cross_slope", "unreadable-text"),
    (tractor("0", "0", cross_slope="25 %"), "#/cross_slope", "unreadable-text"),
    (tractor("0", "0", cross_slope="2 %"), "#/cross_slope", "contract-broken"),
    (
        loaded(trailer("0"), 9000) | {"cross_slope": "2 %"},
        "#/weight",
        "contract-broken",
    ),
    (
        loaded(trailer("0"), 9000) | {"cross_slope": "2 %", "weight": 9000},
        "#/centre_of_gravity",
        "contract-broken",
    ),
    (tractor("0", "0", centre_of_gravity="up"), "#/centre_of_gravity", "unreadable-text"),
    (tractor("0", "0", load_unit="kg", hitch_load=5), "#/hitch_load", "contract-broken"),
    (with_axle(tractor("0", "0"), 2, distance="174"), "#/vehicle/axles/2/distance", None),
    (with_axle(tractor("0", "0"), 2, distance="17"), "#/vehicle/axles/2/distance", None),
    (with_axle(tractor("0", "0"), 2, number=2), "#/vehicle/axles/2/number", None),
]


@pytest.mark.parametrize(("body", "pointer", "kind"), BAD)
def test_what_makes_no_sense_is_refused_at_its_place(
    body: dict[str, Any], pointer: str, kind: str | None
) -> None:
    found = dict(reversed(faults(body)))
    assert pointer in found
    assert kind is None or found[pointer] == kind


def test_every_fault_of_a_body_is_named() -> None:
    body = with_axle(tractor("x", "y", speed=65, cross_slope="2"), 0, steer_ratio=0.5)
    assert [pointer for pointer, _ in faults(body)] == [
        "#/vehicle/axles/0/steer_ratio",
        "#/speed_unit",
        "#/vehicle/axles/1/thrust",
        "#/vehicle/axles/2/thrust",
        "#/cross_slope",
    ]


@pytest.mark.parametrize("stiffness", [0, 1e-300, 5e-324])
def test_tyres_too_soft_to_hold_the_vehicle_are_a_problem_of_their_own(stiffness: float) -> None:
    body = tractor("0", "0", load_unit="lb", cross_slope="2 %", weight=1e6, centre_of_gravity="50")
    for axle in body["vehicle"]["axles"]:
        axle["cornering_stiffness"] = stiffness
    assert faults(body) == [("#/vehicle/axles", "no-equilibrium")]


def test_one_axle_alone_cannot_run_straight() -> None:
    axles = [{"number": 1, "role": "steer", "distance": "0"}]
    body = {"length_unit": "in", "vehicle": {"unit": "truck", "axles": axles}}
    assert faults(body) == [("#/vehicle/axles", "no-equilibrium")]
