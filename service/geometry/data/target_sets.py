"""The built-in target sets: one coherent row for each quantity and role, as its source prints it.

Published limits disagree. Where they do, the comment beside a row says which was taken and why.
A side-to-side *difference* is twice an *offset*: each row keeps the one that its source prints.
"""

from typing import NamedTuple


class PrintedRow(NamedTuple):
    """A target in its source's own texts and unit ("in", "mm", "cm", "deg" or "mm/m").

    Empty `roles` or `axles` mean every one; a row of a pair of axles names its rear axle.
    """

    quantity: str
    unit: str
    nominal: str
    lower: str | None
    upper: str | None
    source: str
    roles: tuple[str, ...] = ()
    axles: tuple[int, ...] = ()
    baseline: str | None = None


class PrintedSet(NamedTuple):
    """A named and versioned collection of printed rows."""

    id: str
    version: int
    title: str
    note: str
    decision_rule: str
    rows: tuple[PrintedRow, ...]


_TRADE = "common practice, no source"
_WESTERN_STAR = "Western Star 47X/49X maintenance manual 33.04.008"
_MICHELIN = "Michelin Truck Tire Service Manual"
_RP_642A = f"{_MICHELIN}, p. 49, quoting TMC RP 642A App. 9"
_RP_71 = f"TTMA RP 71 as quoted by the {_MICHELIN}, p. 52"
_DEXTER = "Dexter 10K-15K axle alignment page"
_NAVY = "NAVEDTRA 14050A (US Navy construction mechanic), p. 191"
_PARALLEL_TRAILER = (
    f"computed: 1/16 in between axle ends ({_RP_71}) over a track of 71.5 in, the usual one of "
    "96 in wide trailers from memory, is 0.05 deg"
)

_STEER = ("steer",)
_LIFTED = ("pusher", "tag")
_REAR = ("drive", *_LIFTED)
_TOWED = ("trailer", "dolly")

COMMON_PRACTICE = PrintedSet(
    id="common-practice",
    version=1,
    title="Rules of the trade",
    note="What shops commonly work to where no maker's figure is at hand. Most of the rules have "
    "no published source; the maker's own figures come first.",
    decision_rule="guarded",
    rows=(
        PrintedRow("offset_difference", "in", "0", "-1/4", "1/4", _TRADE),
        PrintedRow("setback", "in", "0", "-1/16", "1/16", _TRADE, _STEER),
        # No baseline: the trade says it over whatever the tape spanned, which is the axle's own.
        PrintedRow(
            "toe_length",
            "in",
            "1/16",
            "1/32",
            "3/32",
            f"{_TRADE}; the band of 1/32 in either way is that of TMC RP 642 from memory",
            _STEER,
        ),
        # Wedges come in half-degree steps, so a quarter tells "equal" from "one step apart".
        PrintedRow(
            "wedge_difference",
            "deg",
            "0",
            "-0.25",
            "0.25",
            f"{_TRADE}; equal wedges both sides, read as within half of their half-degree step",
            _STEER,
        ),
        # Without this row the default set would leave the main result of the job unjudged.
        PrintedRow(
            "thrust",
            "deg",
            "0",
            "-0.1",
            "0.1",
            f"{_TRADE}; 1/8 in from side to side across the axle ends, taken as 0.1 deg",
            (*_REAR, *_TOWED),
        ),
        PrintedRow(
            "scrub",
            "deg",
            "0",
            "-0.1",
            "0.1",
            f"common practice; printed as the limit of a tractor's tandem skew by the {_MICHELIN}, "
            "p. 51",
            _REAR,
        ),
        PrintedRow(
            "scrub", "deg", "0", "-0.05", "0.05", f"common practice; {_PARALLEL_TRAILER}", _TOWED
        ),
    ),
)

TRUCK_PUBLISHED = PrintedSet(
    id="truck-published",
    version=1,
    title="Trucks and tractors, published figures",
    note="Figures of vehicle and tyre makers' manuals, static and unladen. Where the maker of the "
    "vehicle at hand prints others, those come first.",
    decision_rule="guarded",
    rows=(
        # Western Star prints limits, RP 642A only the target 1/16 in = 0.08 deg, which lies inside;
        # in degrees the row needs no baseline. Meritor's 1/16 ±1/32 in (MM-0361 p. 36) is for
        # its own axles, Volvo's 2.0 to 2.3 mm/m for another kind of truck.
        PrintedRow(
            "toe", "deg", "0.09", "0", "0.18", f"{_WESTERN_STAR}: total toe 0.09 ±0.09", _STEER
        ),
        PrintedRow(
            "toe",
            "deg",
            "0.09",
            "0",
            "0.18",
            f"{_WESTERN_STAR}: pusher and tag, total toe 0.09 ±0.09",
            _LIFTED,
        ),
        # "Less than 1/4 deg" has no sign in print. Read as a magnitude: the makers' own builds lie
        # to both sides of 0 (-1/4 and +1/4 ±7/16), and only by axle make, which no reading tells.
        *(
            PrintedRow(
                quantity,
                "deg",
                "0",
                "-1/4",
                "1/4",
                f"{_RP_642A}: less than 1/4 deg, read here as a magnitude; the nominal 0 is ours",
                _STEER,
            )
            for quantity in ("camber_left", "camber_right")
        ),
        # RP 642A gives targets without limits, Western Star limits about another target; both
        # targets of the former lie within the limits of the latter.
        *(
            PrintedRow(
                quantity,
                "deg",
                nominal,
                "3.0",
                "6.0",
                f"target {nominal}: {_RP_642A}; limits 4.5 ±1.5: {_WESTERN_STAR}",
                _STEER,
            )
            for quantity, nominal in (("caster_left", "3.5"), ("caster_right", "4.0"))
        ),
        # The split that Western Star prints ("minimum of 1.0 and no more than 5.0 apart") is very
        # likely a misprint and is not used. The Navy's two rules put RP 642A's split in the middle.
        PrintedRow(
            "cross_caster",
            "deg",
            "0.5",
            "0",
            "1.0",
            f"target: {_RP_642A}; limits: {_NAVY}: right not below left, wedges at most 1 deg "
            "apart",
            _STEER,
        ),
        PrintedRow(
            "wedge_difference",
            "deg",
            "0",
            "-1",
            "1",
            f"{_NAVY}: at most 1 deg from side to side; the nominal 0 is ours",
            _STEER,
        ),
        PrintedRow(
            "setback",
            "in",
            "0",
            "-3/16",
            "3/16",
            f"{_MICHELIN}, p. 118: front of U-bolt to front spring pin, side to side; target 0: "
            "TMC RP 642A App. 9, p. 49 there",
            _STEER,
        ),
        # One maker's three figures, made to go together, rather than the coach's ±0.04 deg or
        # the tape rules of 1/8 in (suspension makers) and 3/16 in (tyre maker) side to side.
        PrintedRow(
            "thrust",
            "deg",
            "0",
            "-0.18",
            "0.18",
            f"{_WESTERN_STAR}: thrust of the rear drive axle 0 ±0.18; applied to every drive axle",
            ("drive",),
        ),
        PrintedRow("scrub", "deg", "0", "-0.08", "0.08", f"{_WESTERN_STAR}: scrub 0 ±0.08", _REAR),
        PrintedRow(
            "offset",
            "in",
            "0",
            "-0.25",
            "0.25",
            f"{_WESTERN_STAR}: tracking, lateral offset 0 ±0.25",
            _REAR,
        ),
    ),
)

TRAILER_PUBLISHED = PrintedSet(
    id="trailer-published",
    version=1,
    title="Trailers and dollies, published figures",
    note="Figures of trailer and axle makers, unladen and level. Where the maker of the vehicle "
    "at hand prints others, those come first.",
    decision_rule="guarded",
    rows=(
        # Most makers agree on 1/8; one Army manual allows 3/16, and one maker sets a side 1/8
        # short on purpose for road slope, which a shop can say in a set of its own.
        PrintedRow(
            "kingpin_difference",
            "in",
            "0",
            "-1/8",
            "1/8",
            f"{_RP_71}: lead axle ends to kingpin",
            ("trailer",),
            (1,),
        ),
        PrintedRow(
            "span_difference", "in", "0", "-1/16", "1/16", f"{_RP_71}: axle to axle", ("trailer",)
        ),
        # The same limit for axles that were not taped to each other but sighted.
        PrintedRow("scrub", "deg", "0", "-0.05", "0.05", _PARALLEL_TRAILER, ("trailer",)),
        PrintedRow(
            "thrust",
            "deg",
            "0",
            "-0.1",
            "0.1",
            f"{_DEXTER}: kingpin to lead axle ends equal within 0.1 deg; applied to every trailer "
            "axle",
            ("trailer",),
        ),
        PrintedRow(
            "offset",
            "in",
            "0",
            "-1/4",
            "1/4",
            f"{_DEXTER}: lateral centreline offset 1/4 in or less per axle",
            ("trailer",),
        ),
        # RP 642A sets a dolly's targets at 0 and no limits; a dolly is judged as a trailer.
        PrintedRow(
            "thrust",
            "deg",
            "0",
            "-0.1",
            "0.1",
            f"target: {_RP_642A}; limits by analogy, those of trailer axles: {_DEXTER}",
            ("dolly",),
        ),
        PrintedRow(
            "offset",
            "in",
            "0",
            "-1/4",
            "1/4",
            f"target: {_RP_642A}; limits by analogy, those of trailer axles: {_DEXTER}",
            ("dolly",),
        ),
        PrintedRow(
            "scrub", "deg", "0", "-0.05", "0.05", f"by analogy; {_PARALLEL_TRAILER}", ("dolly",)
        ),
    ),
)

PRINTED_SETS = (COMMON_PRACTICE, TRUCK_PUBLISHED, TRAILER_PUBLISHED)
