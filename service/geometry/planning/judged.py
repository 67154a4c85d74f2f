"""Which findings bound which value, and what mends them: worked out once for what is judged."""

from collections.abc import Iterator, Sequence

from service.geometry.findings import Finding
from service.geometry.latest import Latest
from service.geometry.pattern import Pattern
from service.geometry.planning.rows import AIM, CENTRE, MATCH_WEDGES, SET_TOE, SQUARE

AIMS_APART, WEDGES_APART = "aims_apart", "wedges_apart"
"""How far an aim lies from that of the axle ahead, and the right wedge from the left one."""

SIDES = ("left", "right")

MAKES = {
    CENTRE: ("offset", "offset_difference"),
    AIM: (
        "thrust",
        "thrust_difference",
        "kingpin_difference",
        "setback",
        "skew",
        "toe_left",
        "toe_right",
    ),
    SQUARE: ("skew", "setback"),
    SET_TOE: ("toe", "toe_length", "toe_left", "toe_right"),
    **{side: (f"caster_{side}", f"wedge_{side}") for side in SIDES},
    AIMS_APART: ("scrub", "span_difference"),
    WEDGES_APART: ("wedge_difference", "cross_caster"),
}
"""Quantities that a value makes, that of an action or the wedge of a side, or a difference of two;
the nominal of the first that is judged is the value's own."""

MENDS_WEDGES = frozenset(name for key in (*SIDES, WEDGES_APART) for name in MAKES[key])
MENDS_AIMS = frozenset(MAKES[AIM] + MAKES[AIMS_APART])

KEPT = 8
"""Choices of quantities that are kept for one pattern: the built-in target sets and some more."""


class Judged:
    """Where findings stand that speak of the same quantities of the same pattern.

    Attributes: `on` (what an axle's value or difference makes, see `MAKES`, and which finding
    speaks of it, for each such value), `mending` (for each finding the actions that mend it, and
    their axle), `aims` (the axles that do not steer and the place of their slope, front to rear).
    """

    __slots__ = ("aims", "mending", "on")

    def __init__(self, pattern: Pattern, places: Sequence[int]) -> None:
        by_name: dict[tuple[str, int], list[int]] = {}
        self.mending: list[list[tuple[str, int]]] = []
        steered = {axle[0]: axle[2] for axle in pattern.shape.axles}
        for number, place in enumerate(places):
            name, axle = pattern.quantities[place].name, pattern.quantities[place].axle
            by_name.setdefault((name, axle), []).append(number)
            self.mending.append([(action, axle) for action in _mending(name, steered[axle])])
        self.on = {
            (key, axle): [(n, finding) for n in names for finding in by_name.get((n, axle), ())]
            for axle in steered
            for key, names in MAKES.items()
        }
        self.aims = [
            (axle, pattern.unknown_of["slope", axle])
            for axle in steered
            if not steered[axle] and ("slope", axle) in pattern.unknown_of
        ]


def _mending(name: str, steered: bool) -> Iterator[str]:
    """Actions that mend a quantity of an axle; a single wheel's toe hangs on two."""
    if name in MAKES[CENTRE]:
        yield CENTRE
    if name in MENDS_AIMS and not steered:
        yield AIM
    if name in MAKES[SQUARE] and steered:
        yield SQUARE
    if name in MENDS_WEDGES:
        yield MATCH_WEDGES
    if name in MAKES[SET_TOE]:
        yield SET_TOE


def judged_of(pattern: Pattern, findings: Sequence[Finding]) -> Judged:
    """The same, kept with the pattern for the next vehicle that is judged alike."""
    places = tuple([finding.quantity for finding in findings])
    kept: Latest[tuple[int, ...], Judged] | None = pattern.kept.get("judged")
    if kept is None:
        kept = pattern.kept["judged"] = Latest(KEPT)
    found = kept.get(places)
    if found is None:
        found = Judged(pattern, places)
        kept.keep(places, found)
    return found
