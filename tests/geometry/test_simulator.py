"""The simulator against figures that anybody can redo with a ruler, before it judges the solver."""

import math
import statistics

import numpy as np
import pytest
from hypothesis import given, settings
from simulator import (
    Axle,
    Item,
    Vehicle,
    Wheel,
    angle_text,
    length_text,
    mirror,
    noisy,
    random_case,
    read,
    read_all,
    request,
    seeded,
    stated,
)
from simulator.fleet import Case
from simulator.strategies import cases

THREE_FOUR_FIVE = math.atan2(3, 4)
"""Aim of an axle whose every point has round coordinates: sine 3/5, cosine 4/5."""


def pair_of_axles(**rear: float) -> Vehicle:
    """A steer axle at the origin and a drive axle 20 behind, each 10 wide (any unit)."""
    steer = Axle(1, "steer", 0.0, width_over_tyres=10.0)
    return Vehicle("tractor", [steer, Axle(2, "drive", 20.0, width_over_tyres=10.0, **rear)], 6.0)


def left_right(vehicle: Vehicle, item: Item) -> tuple[float, float]:
    reading = read(vehicle, item)
    return reading["left"], reading["right"]


class TestByHand:
    def test_a_straight_centred_axle_reads_the_standoff_on_both_sides(self) -> None:
        item = {"kind": "sightline", "axle": 2, "standoff": 0.25}
        assert left_right(pair_of_axles(), item) == (0.25, 0.25)

    def test_a_sightline_of_an_axle_in_a_3_4_5_triangle(self) -> None:
        # The right sidewall lies at (-20-3, 4); its line climbs 3 in 4 and so meets x = 0 at
        # 4 + 23 * 3/4 = 21.25. The left one lies at (-17, -4) and meets it at 8.75.
        vehicle = pair_of_axles(thrust=THREE_FOUR_FIVE)
        left, right = left_right(vehicle, {"kind": "sightline", "axle": 2})
        assert (left, right) == pytest.approx((-8.75 - 5, 21.25 - 5), abs=1e-12)

    def test_toe_in_brings_both_sightlines_inboard(self) -> None:
        vehicle = pair_of_axles(toe=2 * math.atan(0.01))
        readings = left_right(vehicle, {"kind": "sightline", "axle": 2})
        assert readings == pytest.approx((-0.2, -0.2), abs=1e-12)

    def test_a_sightline_moves_with_the_axle_and_against_its_reference(self) -> None:
        vehicle = pair_of_axles(offset=0.5)
        vehicle.axles[0].offset = 0.125
        item = {"kind": "sightline", "axle": 2}
        assert left_right(vehicle, item) == pytest.approx((-0.375, 0.375), abs=1e-12)

    def test_a_trailer_without_reference_reads_outboard_of_the_kingpin(self) -> None:
        vehicle = Vehicle("trailer", [Axle(1, "trailer", 40.0, width_over_tyres=10.0, offset=1.0)])
        assert left_right(vehicle, {"kind": "sightline", "axle": 1}) == (4.0, 6.0)

    def test_a_frame_gap_runs_from_the_rail_to_the_sidewall(self) -> None:
        vehicle = pair_of_axles(offset=0.5)
        assert left_right(vehicle, {"kind": "frame_gap", "axle": 2}) == (1.5, 2.5)

    def test_a_frame_gap_of_a_yawed_axle_is_taken_at_its_sidewall(self) -> None:
        vehicle = pair_of_axles(thrust=THREE_FOUR_FIVE)
        gaps = left_right(vehicle, {"kind": "frame_gap", "axle": 2})
        assert gaps == pytest.approx((1.0, 1.0), abs=1e-12)

    def test_setback_is_the_spread_times_the_sine_of_the_skew(self) -> None:
        vehicle = pair_of_axles()
        vehicle.axles[0].skew = THREE_FOUR_FIVE
        item = {"kind": "setback_span", "axle": 1, "spread": 10.0, "pin_ahead": 5.0}
        assert left_right(vehicle, item) == pytest.approx((5 - 3, 5 + 3), abs=1e-12)

    def test_the_wheels_of_a_steer_axle_can_aim_where_its_beam_does_not(self) -> None:
        vehicle = pair_of_axles()
        vehicle.axles[0].thrust = 0.1
        item = {"kind": "setback_span", "axle": 1, "spread": 10.0, "pin_ahead": 5.0}
        assert left_right(vehicle, item) == (5.0, 5.0)

    def test_an_axle_span_is_a_taut_tape_between_beam_ends(self) -> None:
        vehicle = pair_of_axles(thrust=THREE_FOUR_FIVE)
        item = {"kind": "axle_span", "front_axle": 1, "rear_axle": 2, "spread": 10.0}
        spans = (math.hypot(17, 1), math.hypot(23, 1))
        assert left_right(vehicle, item) == pytest.approx(spans, abs=1e-12)

    def test_a_kingpin_span_is_a_taut_tape_to_the_beam_end(self) -> None:
        axle = Axle(1, "trailer", 20.0, offset=0.5, thrust=THREE_FOUR_FIVE)
        item = {"kind": "kingpin_span", "axle": 1, "spread": 10.0}
        spans = (math.hypot(17, 3.5), math.hypot(23, 4.5))
        assert left_right(Vehicle("trailer", [axle]), item) == pytest.approx(spans, abs=1e-12)

    def test_toe_in_makes_the_rear_width_the_larger(self) -> None:
        vehicle = pair_of_axles(toe=2 * math.atan(0.01))
        reading = read(vehicle, {"kind": "toe_width", "axle": 2, "baseline": 4.0, "track": 8.0})
        assert (reading["front"], reading["rear"]) == pytest.approx((7.96, 8.04), abs=1e-12)

    def test_a_toe_scale_shows_total_toe_over_its_baseline(self) -> None:
        vehicle = pair_of_axles(toe=math.atan(0.01))
        reading = read(vehicle, {"kind": "toe_scale", "axle": 2, "baseline": 4.0})
        assert reading["toe"] == pytest.approx(0.04, abs=1e-12)

    def test_wheel_toes_are_taken_inward_from_the_frame(self) -> None:
        vehicle = pair_of_axles(thrust=0.003, toe=0.010)
        shown = [
            read(vehicle, {"kind": "wheel_angle", "axle": 2, "side": side, "shows": ("toe",)})
            for side in ("left", "right")
        ]
        assert [row["toe"] for row in shown] == pytest.approx([0.008, 0.002], abs=1e-15)

    def test_a_wedge_reads_a_taper_and_where_its_thick_end_is(self) -> None:
        vehicle = pair_of_axles()
        vehicle.axles[0].left.wedge, vehicle.axles[0].right.wedge = -0.01, 0.02
        assert read(vehicle, {"kind": "wedge", "axle": 1}) == {
            "kind": "wedge",
            "axle": 1,
            "left": 0.01,
            "left_thick_end": "front",
            "right": 0.02,
            "right_thick_end": "rear",
        }


class TestAgainstKingpinGeometry:
    """Spans of a trailer axle, in inches: kingpin to axle 480, half span 35.75.

    Computed by hand from D_R^2 - D_L^2 = 4 L w sin(th) - 4 w e cos(th), which follows from
    Pythagoras; printed to 1e-4 in.
    """

    @pytest.mark.parametrize(
        ("degrees", "left_offset", "left", "right"),
        [(0.1, 0.0, 481.2672, 481.3917), (0.0, 0.25, 481.3481, 481.3110)],
        ids=["aims 0.1 degree right", "stands 1/4 in to the left"],
    )
    def test_spans(self, degrees: float, left_offset: float, left: float, right: float) -> None:
        axle = Axle(1, "trailer", 480.0, offset=-left_offset, thrust=math.radians(degrees))
        item = {"kind": "kingpin_span", "axle": 1, "spread": 71.5}
        spans = left_right(Vehicle("trailer", [axle]), item)
        assert spans == pytest.approx((left, right), abs=6e-5)

    def test_an_axle_that_aims_and_stands_wrong_shows_less_than_its_aim(self) -> None:
        axle = Axle(1, "trailer", 480.0, offset=-0.25, thrust=math.radians(0.1))
        item = {"kind": "kingpin_span", "axle": 1, "spread": 71.5}
        left, right = left_right(Vehicle("trailer", [axle]), item)
        assert right - left == pytest.approx(0.0873, abs=6e-5)


class TestAgainstAKingpinTurnedInSpace:
    """Camber of a wheel turned about its kingpin, by Rodrigues' rotation of the spindle."""

    @pytest.mark.parametrize("side", ["left", "right"])
    @pytest.mark.parametrize("turn", [10.0, 20.0, 25.0])
    @pytest.mark.parametrize("caster", [-1.0, 2.5, 4.0, 6.0])
    def test_the_sweep_is_that_of_a_leaning_kingpin(
        self, side: str, turn: float, caster: float
    ) -> None:
        lean, angle = math.radians(caster), math.radians(turn)
        axis = np.array([-math.sin(lean), 0.0, math.cos(lean)])  # x forward, y left, z up
        spindle = np.array([0.0, 1.0 if side == "left" else -1.0, 0.0])

        def camber(left_turn: float) -> float:
            turned = (
                spindle * math.cos(left_turn)
                + np.cross(axis, spindle) * math.sin(left_turn)
                + axis * (axis @ spindle) * (1 - math.cos(left_turn))
            )
            return -math.asin(turned[2])  # a wheel leans outward when its spindle dips

        vehicle = pair_of_axles()
        vehicle.axles[0].left = vehicle.axles[0].right = Wheel(camber=0.0, caster=lean)
        item = {"kind": "caster_sweep", "axle": 1, "side": side, "turn": angle}
        reading = read(vehicle, item)
        assert reading["camber_left_turn"] == pytest.approx(camber(angle), rel=3e-3)
        assert reading["camber_right_turn"] == pytest.approx(camber(-angle), rel=3e-3)

    def test_four_degrees_of_caster_give_2_7362_degrees_over_a_20_degree_sweep(self) -> None:
        # Computed: 2 sin 20 deg * 4 deg.
        vehicle = pair_of_axles()
        vehicle.axles[0].left = Wheel(camber=0.005, caster=math.radians(4))
        turn = math.radians(20)
        reading = read(vehicle, {"kind": "caster_sweep", "axle": 1, "side": "left", "turn": turn})
        change = math.degrees(reading["camber_left_turn"] - reading["camber_right_turn"])
        assert change == pytest.approx(2.7362, abs=5e-5)


def test_a_sightline_cannot_tell_an_axle_that_stands_off_centre_from_one_that_aims_wrong() -> None:
    off_centre = pair_of_axles(offset=0.02)
    aims_wrong = pair_of_axles(thrust=math.atan(0.02 / 20))
    item = {"kind": "sightline", "axle": 2}
    difference = np.subtract(left_right(off_centre, item), left_right(aims_wrong, item))
    assert np.abs(difference).max() < 1e-5


@given(case=cases())
@settings(max_examples=150, deadline=None)
def test_the_mirrored_vehicle_gives_the_mirrored_readings(case: Case) -> None:
    by_vehicle = read_all(mirror(case.vehicle), mirrored_items(case.items))
    for first, second in zip(by_vehicle, mirror(case.readings), strict=True):
        assert first.keys() == second.keys()
        for name, value in first.items():
            if isinstance(value, float):
                assert value == pytest.approx(second[name], abs=1e-13)
            elif not (name.endswith("thick_end") and first[name.split("_")[0]] == 0):
                assert value == second[name]


def mirrored_items(items: list[Item]) -> list[Item]:
    other = {"left": "right", "right": "left"}
    return [item | {"side": other[item["side"]]} if "side" in item else item for item in items]


@given(case=cases())
@settings(max_examples=50, deadline=None)
def test_a_vehicle_mirrored_twice_is_itself(case: Case) -> None:
    assert mirror(mirror(case.vehicle)) == case.vehicle
    assert mirror(mirror(case.readings)) == case.readings


def test_noise_has_the_size_that_the_reading_states() -> None:
    dice = seeded(11)
    exact = stated({"kind": "frame_gap", "axle": 1, "left": 0.7, "right": 0.7})
    errors = [noisy(exact, dice)["left"] - 0.7 for _ in range(4000)]
    assert statistics.mean(errors) == pytest.approx(0.0, abs=6e-5)
    assert statistics.stdev(errors) == pytest.approx(exact["uncertainty"], rel=0.05)


def test_noise_that_carries_a_taper_through_zero_turns_its_thick_end() -> None:
    dice = seeded(12)
    level = {"kind": "wedge", "axle": 1, "left": 0.0, "right": 0.0, "uncertainty": 0.01}
    level |= {"left_thick_end": "rear", "right_thick_end": "rear"}
    shaken = [noisy(level, dice) for _ in range(100)]
    assert all(reading["left"] >= 0 for reading in shaken)
    assert {reading["left_thick_end"] for reading in shaken} == {"front", "rear"}


@pytest.mark.parametrize("unit", ["mm", "cm", "in"])
def test_texts_of_a_request_keep_a_length_to_a_picometre(unit: str) -> None:
    number, mark = length_text(-1.234567890123456, unit).split()
    scale = {"mm": 1e-3, "cm": 1e-2, "in": 0.0254}[unit]
    assert mark == unit
    assert float(number) * scale == pytest.approx(-1.234567890123456, abs=1e-12)


def test_a_request_carries_every_reading_as_text() -> None:
    case = random_case(seeded(3), "tractor")
    body = request(case.vehicle, [stated(reading) for reading in case.readings], "in")
    assert len(body["readings"]) == len(case.readings)
    for sent, reading in zip(body["readings"], case.readings, strict=True):
        numbers = {name for name, value in reading.items() if isinstance(value, float)}
        assert all(isinstance(sent[name], str) for name in numbers)
        assert sent["kind"] == reading["kind"]
    assert angle_text(math.radians(0.25)) == "0.250000000000000"
