"""The built-in target sets against what their sources print, in SI by pint.

Each expected row names its source. Rows marked `common practice, no source` are rules of the
trade that nobody published; rows marked `from memory` were not seen in print.
"""

from math import atan, degrees

import pint
import pytest

from service.geometry.targets import Target, applies, target_set

UNITS = pint.UnitRegistry()
STEER, DRIVE, TRAILER = ("steer", 1), ("drive", 3), ("trailer", 1)

WESTERN_STAR = "Western Star 47X/49X maintenance manual 33.04.008"
RP_642A = "TMC RP 642A App. 9"
MICHELIN = "Michelin Truck Tire Service Manual"
NAVY = "NAVEDTRA 14050A"
DEXTER = "Dexter 10K-15K axle alignment page"
TRADE = "common practice, no source"

PUBLISHED = [
    # set, axle, quantity, unit, nominal, lower, upper, source that the row must name
    # common practice, no source: side-to-side centring within 1/4 in
    ("common-practice", DRIVE, "offset_difference", "inch", 0, -0.25, 0.25, TRADE),
    # common practice, no source: setback within 1/16 in
    ("common-practice", STEER, "setback", "inch", 0, -0.0625, 0.0625, TRADE),
    # common practice, no source: total toe-in 1/16 in; band of RP 642, 1/32 in, from memory
    ("common-practice", STEER, "toe_length", "inch", 0.0625, 0.03125, 0.09375, TRADE),
    # common practice, no source: equal wedges both sides
    ("common-practice", STEER, "wedge_difference", "degree", 0, -0.25, 0.25, TRADE),
    # common practice, no source: 1/8 in across the axle ends, taken as 0.1 deg
    ("common-practice", DRIVE, "thrust", "degree", 0, -0.1, 0.1, TRADE),
    # common practice; Michelin p. 51: tandem skew no larger than 0.1 deg
    ("common-practice", DRIVE, "scrub", "degree", 0, -0.1, 0.1, MICHELIN),
    # Western Star: total toe 0.09 ±0.09 deg, steer axle and pusher and tag
    ("truck-published", STEER, "toe", "degree", 0.09, 0, 0.18, WESTERN_STAR),
    ("truck-published", ("tag", 4), "toe", "degree", 0.09, 0, 0.18, WESTERN_STAR),
    ("truck-published", ("pusher", 2), "toe", "degree", 0.09, 0, 0.18, WESTERN_STAR),
    # RP 642A App. 9 as quoted by Michelin p. 49: camber less than 1/4 deg
    ("truck-published", STEER, "camber_left", "degree", 0, -0.25, 0.25, RP_642A),
    ("truck-published", STEER, "camber_right", "degree", 0, -0.25, 0.25, RP_642A),
    # RP 642A App. 9: caster left +3.5, right +4.0; Western Star: 4.5 ±1.5 each
    ("truck-published", STEER, "caster_left", "degree", 3.5, 3.0, 6.0, RP_642A),
    ("truck-published", STEER, "caster_right", "degree", 4.0, 3.0, 6.0, WESTERN_STAR),
    # RP 642A App. 9: right 0.5 more; Navy manual p. 191: right not below left, wedges 1 deg
    ("truck-published", STEER, "cross_caster", "degree", 0.5, 0.0, 1.0, RP_642A),
    ("truck-published", STEER, "wedge_difference", "degree", 0, -1, 1, NAVY),
    # Michelin p. 118: setback ±3/16 in
    ("truck-published", STEER, "setback", "inch", 0, -0.1875, 0.1875, MICHELIN),
    # Western Star: thrust 0 ±0.18 deg, scrub 0 ±0.08 deg, lateral offset 0 ±0.25 in
    ("truck-published", DRIVE, "thrust", "degree", 0, -0.18, 0.18, WESTERN_STAR),
    ("truck-published", DRIVE, "scrub", "degree", 0, -0.08, 0.08, WESTERN_STAR),
    ("truck-published", DRIVE, "offset", "inch", 0, -0.25, 0.25, WESTERN_STAR),
    ("truck-published", ("tag", 4), "scrub", "degree", 0, -0.08, 0.08, WESTERN_STAR),
    ("truck-published", ("pusher", 2), "offset", "inch", 0, -0.25, 0.25, WESTERN_STAR),
    # TTMA RP 71 as quoted by Michelin p. 52: kingpin 1/8 in, axle to axle 1/16 in
    ("trailer-published", TRAILER, "kingpin_difference", "inch", 0, -0.125, 0.125, "TTMA RP 71"),
    ("trailer-published", TRAILER, "span_difference", "inch", 0, -0.0625, 0.0625, "TTMA RP 71"),
    # Dexter: 0.1 deg or 1/8 in to the kingpin, centreline offset 1/4 in or less
    ("trailer-published", TRAILER, "thrust", "degree", 0, -0.1, 0.1, DEXTER),
    ("trailer-published", TRAILER, "offset", "inch", 0, -0.25, 0.25, DEXTER),
]


def rows_for(set_id: str, axle: tuple[str, int]) -> list[Target]:
    return [row for row in target_set(set_id).rows if applies(row, *axle)]


def row_of(set_id: str, axle: tuple[str, int], quantity: str) -> Target:
    (row,) = [row for row in rows_for(set_id, axle) if row.quantity == quantity]
    return row


@pytest.mark.parametrize(
    ("set_id", "axle", "quantity", "unit", "nominal", "lower", "upper", "source"), PUBLISHED
)
def test_a_row_holds_what_its_source_prints(
    set_id: str,
    axle: tuple[str, int],
    quantity: str,
    unit: str,
    nominal: float,
    lower: float,
    upper: float,
    source: str,
) -> None:
    row = row_of(set_id, axle, quantity)
    base = "metre" if unit == "inch" else "radian"
    expected = [
        UNITS.Quantity(number, unit).to(base).magnitude for number in (nominal, lower, upper)
    ]
    assert [row.nominal, row.lower, row.upper] == pytest.approx(expected, rel=1e-14, abs=0.0)
    assert source in row.source


def test_the_rules_of_the_trade_say_that_they_have_no_source() -> None:
    for row in target_set("common-practice").rows:
        assert row.source.startswith("common practice")
    for set_id in ("truck-published", "trailer-published"):
        for row in target_set(set_id).rows:
            assert "no source" not in row.source


def test_every_row_of_memory_says_so() -> None:
    # The band of RP 642 and the track of 96 in wide trailers were not seen in print.
    marked = [
        (set_id, row.quantity)
        for set_id in ("common-practice", "truck-published", "trailer-published")
        for row in target_set(set_id).rows
        if "from memory" in row.source
    ]
    assert marked == [
        ("common-practice", "toe_length"),
        ("common-practice", "scrub"),
        ("trailer-published", "scrub"),
        ("trailer-published", "scrub"),
    ]


def test_the_misprinted_caster_split_is_nobodys_limit() -> None:
    # Western Star 33.04.008 prints "minimum of 1.0 and no more than 5.0 apart".
    row = row_of("truck-published", STEER, "cross_caster")
    assert degrees(row.lower) == pytest.approx(0.0)
    assert degrees(row.upper) == pytest.approx(1.0)


def test_the_targets_of_rp_642a_lie_within_the_limits_taken_from_western_star() -> None:
    # Total toe 1/16 in, which the Michelin manual (p. 49) states as 0.08 deg and as 1.5 mm/m.
    toe = row_of("truck-published", STEER, "toe")
    for target in (0.08, degrees(atan(1.5e-3))):
        assert toe.lower <= target / degrees(1.0) <= toe.upper
    # RP 642A's split is the difference of its own two casters.
    left, right = (row_of("truck-published", STEER, f"caster_{s}") for s in ("left", "right"))
    split = row_of("truck-published", STEER, "cross_caster")
    assert right.nominal - left.nominal == pytest.approx(split.nominal, rel=1e-14)


def test_inches_and_degrees_of_the_trailer_rules_agree_over_a_track_of_71_5_inches() -> None:
    # Dexter prints "0.1 degree or 1/8"; the track is from memory.
    kingpin = row_of("trailer-published", TRAILER, "kingpin_difference")
    spans = row_of("trailer-published", TRAILER, "span_difference")
    track = 71.5 * 0.0254
    thrust = row_of("trailer-published", TRAILER, "thrust")
    scrub = row_of("trailer-published", TRAILER, "scrub")
    assert atan(kingpin.upper / track) == pytest.approx(thrust.upper, rel=0.003)
    assert atan(spans.upper / track) == pytest.approx(scrub.upper, rel=0.003)


def test_centring_by_difference_is_twice_as_strict_as_the_same_figure_by_offset() -> None:
    # Both print 1/4 in: the trade of a side-to-side difference, Western Star of an offset.
    trade = row_of("common-practice", DRIVE, "offset_difference")
    maker = row_of("truck-published", DRIVE, "offset")
    assert trade.upper == maker.upper
    assert trade.upper / 2 < maker.upper
    assert not [r for r in target_set("common-practice").rows if r.quantity == "offset"]
    assert not [r for r in target_set("truck-published").rows if r.quantity == "offset_difference"]


def test_no_published_set_judges_what_nobody_published() -> None:
    # No figure was found for the centring of a steer axle, or for the aim of a pusher or tag axle.
    steer, tag = (rows_for("truck-published", axle) for axle in (STEER, ("tag", 4)))
    assert not [row for row in steer if row.quantity in {"offset", "thrust"}]
    assert not [row for row in tag if row.quantity == "thrust"]
