"""Standard uncertainties against the `uncertainties` package, which propagates as the GUM does.

JCGM 100:2008, 5.1.2 (sum of squares of contributions) and 5.2.2 (correlated ones). Readings that
leave nothing over have an explicit answer by trigonometry; the package carries the readings'
uncertainties through it, correlations included, and must come to what the solver states.
"""

import math

import pytest
from simulator import Axle, Item, Reading, Vehicle, read_all
from simulator.bridge import answers, solved_readings
from uncertainties import UFloat, ufloat, umath

from service.geometry.uncertainty import CENTRING

SIGHT, GAP, SPAN = 0.9e-3, 0.7e-3, 0.5e-3
ANGLE = 0.4e-3


def tractor() -> Vehicle:
    """An invented three-axle tractor with a little of everything wrong."""
    return Vehicle(
        "tractor",
        [
            Axle(1, "steer", 0.0, offset=0.003, thrust=0.001, toe=0.0016, skew=0.0012),
            Axle(2, "drive", 4.76, offset=-0.004, thrust=0.0021),
            Axle(3, "drive", 6.08, offset=0.002, thrust=-0.0013),
        ],
    )


def trailer() -> Vehicle:
    """An invented tandem trailer."""
    axles = [Axle(1, "trailer", 10.9, 0.005, 0.0018), Axle(2, "trailer", 12.2, -0.003, -0.0009)]
    return Vehicle("trailer", axles)


def taken(vehicle: Vehicle, items: list[tuple[Item, float]]) -> list[Reading]:
    """Exact readings, each with its own standard uncertainty of one side."""
    shown = read_all(vehicle, [item for item, _ in items])
    return [r | {"uncertainty": u} for r, (_, u) in zip(shown, items, strict=True)]


def half_difference(reading: Reading) -> UFloat:
    u = reading["uncertainty"]
    return (ufloat(reading["right"], u) - ufloat(reading["left"], u)) / 2


def check(estimate: tuple[float, float], expected: UFloat, rel: float = 1e-9) -> None:
    assert estimate[0] == pytest.approx(expected.nominal_value, abs=1e-9)
    assert estimate[1] == pytest.approx(expected.std_dev, rel=rel)


class TestTractor:
    @pytest.fixture
    def readings(self) -> list[Reading]:
        items: list[tuple[Item, float]] = [
            ({"kind": "frame_gap", "axle": a}, GAP) for a in (1, 2, 3)
        ]
        items += [({"kind": "sightline", "axle": a}, SIGHT) for a in (2, 3)]
        return taken(tractor(), items)

    def by_hand(self, readings: list[Reading], axle: int) -> dict[int, UFloat]:
        """Aim of axles 2 and 3 from offsets and sightlines, `axle` the reference."""
        offsets = {r["axle"]: half_difference(r) for r in readings if r["kind"] == "frame_gap"}
        centre = offsets.get(axle, ufloat(0.0, CENTRING))
        distances = {2: 4.76, 3: 6.08}
        return {
            r["axle"]: umath.atan(
                (half_difference(r) - (offsets[r["axle"]] - centre)) / distances[r["axle"]]
            )
            for r in readings
            if r["kind"] == "sightline"
        }

    def test_thrust_carries_both_centrings_and_the_sightline(self, readings: list[Reading]) -> None:
        told = answers(solved_readings(tractor(), readings))
        for axle, aim in self.by_hand(readings, 1).items():
            check(told["thrust", axle], aim)

    def test_scrub_is_correlated_through_the_reference_axle(self, readings: list[Reading]) -> None:
        told = answers(solved_readings(tractor(), readings))
        aims = self.by_hand(readings, 1)
        check(told["scrub", 3], aims[3] - aims[2])
        unheeded = math.hypot(aims[2].std_dev, aims[3].std_dev)
        assert told["scrub", 3][1] < 0.95 * unheeded

    def test_an_unread_centring_flows_into_thrust(self) -> None:
        vehicle = tractor()
        vehicle.axle(1).offset = 0.0
        items: list[tuple[Item, float]] = [({"kind": "frame_gap", "axle": a}, GAP) for a in (2, 3)]
        items += [({"kind": "sightline", "axle": a}, SIGHT) for a in (2, 3)]
        readings = taken(vehicle, items)
        told = answers(solved_readings(vehicle, readings))
        aims = self.by_hand(readings, 1)
        for axle, aim in aims.items():
            check(told["thrust", axle], aim)
            assert told["thrust", axle][1] > CENTRING / 6.1
        check(told["scrub", 3], aims[3] - aims[2])

    def test_offset_is_half_the_difference(self, readings: list[Reading]) -> None:
        told = answers(solved_readings(tractor(), readings))
        for reading in readings[:3]:
            half = half_difference(reading)
            check(told["offset", reading["axle"]], half)
            check(told["offset_difference", reading["axle"]], 2 * half)


class TestFrontEnd:
    def test_skew_and_setback(self) -> None:
        item = {"kind": "setback_span", "axle": 1, "spread": 0.8509}
        [reading] = taken(tractor(), [(item, SPAN)])
        told = answers(solved_readings(tractor(), [reading]))
        difference = 2 * half_difference(reading)
        check(told["setback", 1], difference)
        check(told["skew", 1], umath.asin(difference / 0.8509))

    def test_toe_of_a_scale(self) -> None:
        item = {"kind": "toe_scale", "axle": 1, "baseline": 1.02}
        [reading] = taken(tractor(), [(item, SPAN)])
        told = answers(solved_readings(tractor(), [reading]))
        check(told["toe", 1], umath.atan(ufloat(reading["toe"], SPAN) / 1.02))
        check(told["toe_length", 1], ufloat(reading["toe"], SPAN))

    def test_toe_of_two_widths(self) -> None:
        item = {"kind": "toe_width", "axle": 1, "baseline": 1.02}
        [reading] = taken(tractor(), [(item, SPAN)])
        told = answers(solved_readings(tractor(), [reading]))
        front, rear = ufloat(reading["front"], SPAN), ufloat(reading["rear"], SPAN)
        check(told["toe", 1], 2 * umath.atan((rear - front) / (2 * 1.02)))

    def test_two_wheel_toes_give_an_aim_and_a_total(self) -> None:
        items: list[tuple[Item, float]] = [
            ({"kind": "wheel_angle", "axle": 1, "side": side, "shows": ("toe",)}, ANGLE)
            for side in ("left", "right")
        ]
        readings = taken(tractor(), items)
        told = answers(solved_readings(tractor(), readings))
        left, right = (ufloat(r["toe"], ANGLE) for r in readings)
        check(told["toe", 1], left + right)
        check(told["thrust", 1], (left - right) / 2)
        check(told["toe_left", 1], left)
        check(told["toe_right", 1], right)

    def test_a_total_and_one_wheel_give_the_other(self) -> None:
        items: list[tuple[Item, float]] = [
            ({"kind": "wheel_angle", "axle": 1, "side": "left", "shows": ("toe",)}, ANGLE),
            ({"kind": "toe_scale", "axle": 1, "baseline": 1.02}, SPAN),
        ]
        wheel, scale = taken(tractor(), items)
        told = answers(solved_readings(tractor(), [wheel, scale]))
        left = ufloat(wheel["toe"], ANGLE)
        total = umath.atan(ufloat(scale["toe"], SPAN) / 1.02)
        check(told["toe_right", 1], total - left)
        check(told["thrust", 1], left - total / 2)

    def test_caster_of_a_sweep_and_cross_caster(self) -> None:
        vehicle, turn = tractor(), math.radians(20)
        vehicle.axle(1).left.caster, vehicle.axle(1).right.caster = 0.06, 0.07
        items: list[tuple[Item, float]] = [
            ({"kind": "caster_sweep", "axle": 1, "side": side, "turn": turn}, ANGLE)
            for side in ("left", "right")
        ]
        readings = taken(vehicle, items)
        told = answers(solved_readings(vehicle, readings))
        caster = {}
        for reading, sign in zip(readings, (1, -1), strict=True):
            first = ufloat(reading["camber_left_turn"], ANGLE)
            second = ufloat(reading["camber_right_turn"], ANGLE)
            caster[reading["side"]] = sign * (first - second) / (2 * math.sin(turn))
            check(told[f"caster_{reading['side']}", 1], caster[reading["side"]])
        check(told["cross_caster", 1], caster["right"] - caster["left"])

    def test_wedge_difference(self) -> None:
        vehicle = tractor()
        vehicle.axle(1).left.wedge, vehicle.axle(1).right.wedge = -0.01, 0.02
        readings = taken(vehicle, [({"kind": "wedge", "axle": 1}, ANGLE)])
        told = answers(solved_readings(vehicle, readings))
        check(told["wedge_difference", 1], ufloat(0.02, ANGLE) - ufloat(-0.01, ANGLE))


class TestTrailer:
    """Kingpin spans: R^2 - L^2 = 2 spread (D sin a + y cos a), by Pythagoras."""

    spread = 1.816

    def aim(self, span: Reading, gap: Reading) -> UFloat:
        """Aim that solves the equation with offset and spans uncertain; no small angles."""
        # The sum of the spans is taken as known: only their difference is read to a reading's
        # accuracy, as distances are stated to the nearest fraction of an inch.
        total = span["right"] + span["left"]
        squares = 2 * half_difference(span) * total / (2 * self.spread)
        offset = half_difference(gap)
        distance = trailer().axle(span["axle"]).distance
        reach = umath.sqrt(distance**2 + offset**2)
        return umath.asin(squares / reach) - umath.atan(offset / distance)

    def read(self) -> list[Reading]:
        items: list[tuple[Item, float]] = [
            ({"kind": "kingpin_span", "axle": 1, "spread": self.spread}, SPAN),
            ({"kind": "frame_gap", "axle": 1}, GAP),
            ({"kind": "frame_gap", "axle": 2}, GAP),
        ]
        pair = {"front_axle": 1, "rear_axle": 2, "spread": self.spread}
        return taken(trailer(), [*items, ({"kind": "axle_span"} | pair, SPAN)])

    def test_thrust_of_the_lead_axle(self) -> None:
        readings = self.read()
        told = answers(solved_readings(trailer(), readings))
        check(told["thrust", 1], self.aim(readings[0], readings[1]), rel=1e-5)

    def test_scrub_by_spans_between_the_axles(self) -> None:
        # To first order R - L = spread (sin a2 - sin a1); what is left out is 1e-4 of it.
        readings = self.read()
        told = answers(solved_readings(trailer(), readings))
        lead = self.aim(readings[0], readings[1])
        sine = umath.sin(lead) + 2 * half_difference(readings[3]) / self.spread
        rear = umath.asin(sine)
        assert told["thrust", 2][1] == pytest.approx(rear.std_dev, rel=1e-4)
        assert told["scrub", 2][1] == pytest.approx((rear - lead).std_dev, rel=1e-4)
