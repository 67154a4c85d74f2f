"""What the simulator says that readings reach, in cases that need no arithmetic."""

import pytest
from simulator import MEASURED, PARTLY_ASSUMED, Axle, Item, Vehicle, reach

SIGHT = {"kind": "sightline", "axle": 2}
GAP_1, GAP_2 = {"kind": "frame_gap", "axle": 1}, {"kind": "frame_gap", "axle": 2}
TOE_LEFT = {"kind": "wheel_angle", "axle": 2, "side": "left", "shows": ("toe",)}
SCALE = {"kind": "toe_scale", "axle": 2, "baseline": 1.0}
SETBACK = {"kind": "setback_span", "axle": 1, "spread": 0.85}
SPAN = {"kind": "axle_span", "front_axle": 1, "rear_axle": 2, "spread": 1.8}
PIN = {"kind": "kingpin_span", "axle": 2, "spread": 1.8}


def truck(widths: bool = False) -> Vehicle:
    width = 2.44 if widths else None
    return Vehicle(
        "truck",
        [
            Axle(1, "steer", 0.0, width_over_tyres=width),
            Axle(2, "drive", 5.0, width_over_tyres=width),
        ],
    )


def trailer() -> Vehicle:
    return Vehicle("trailer", [Axle(1, "trailer", 9.0), Axle(2, "trailer", 10.3)])


@pytest.mark.parametrize(
    ("items", "expected"),
    [
        ([SIGHT], {("thrust", 2): PARTLY_ASSUMED}),
        ([GAP_2], {("offset", 2): MEASURED}),
        ([SIGHT, GAP_2], {("offset", 2): MEASURED, ("thrust", 2): PARTLY_ASSUMED}),
        (
            [SIGHT, GAP_2, GAP_1],
            {("offset", 1): MEASURED, ("offset", 2): MEASURED, ("thrust", 2): MEASURED},
        ),
        ([TOE_LEFT], {("toe_left", 2): MEASURED}),
        ([SCALE], {("toe", 2): MEASURED}),
        ([SETBACK], {("skew", 1): MEASURED}),
        ([SPAN], {}),
        ([SPAN, SETBACK], {("skew", 1): MEASURED, ("thrust", 2): MEASURED}),
    ],
)
def test_of_a_truck(items: list[Item], expected: dict[tuple[str, int], str]) -> None:
    assert reach(truck(), items).basis == expected


def test_an_aim_read_at_the_wheels_lets_a_sightline_say_something_of_centring() -> None:
    right = TOE_LEFT | {"side": "right"}
    found = reach(truck(), [SIGHT, TOE_LEFT, right])
    assert found.basis["offset", 1] == found.basis["offset", 2] == PARTLY_ASSUMED


def test_one_wheel_toe_and_the_total_give_the_aim() -> None:
    found = reach(truck(), [TOE_LEFT, SCALE]).basis
    assert found == {(name, 2): MEASURED for name in ("thrust", "toe", "toe_left", "toe_right")}


def test_stated_widths_let_a_sightline_reach_toe() -> None:
    assert reach(truck(widths=True), [SIGHT]).basis["toe", 2] == MEASURED


def test_spans_between_trailer_axles_reach_scrub_but_no_aim() -> None:
    assert reach(trailer(), [SPAN]).basis == {("scrub", 2): MEASURED}


def test_a_kingpin_span_and_a_sightline_from_the_kingpin_say_one_and_the_same() -> None:
    found = reach(trailer(), [SIGHT, PIN])
    assert found.basis == {("thrust", 2): PARTLY_ASSUMED}


def test_a_wheel_gives_what_is_shown_of_it() -> None:
    shown = {"kind": "wheel_angle", "axle": 1, "side": "right", "shows": ("camber", "caster")}
    sweep = {"kind": "caster_sweep", "axle": 1, "side": "left", "turn": 0.35}
    found = reach(truck(), [shown, sweep, {"kind": "wedge", "axle": 1}])
    names = ("camber_right", "caster_right", "caster_left", "wedge_left", "wedge_right")
    assert found.basis == {(name, 1): MEASURED for name in names}
