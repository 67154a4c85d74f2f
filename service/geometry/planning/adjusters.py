"""How an axle can be moved: which end, over which spread, in which steps, how far yet."""

from functools import lru_cache
from typing import NamedTuple

LATERAL, LONGITUDINAL, TIE_ROD, WEDGE = "lateral", "longitudinal", "tie_rod", "wedge"

AXLE_ENDS = 71.5 * 0.0254
"""Spread of the axle ends where nothing says otherwise: the track of a 96 in wide vehicle
(industry, from memory), in metres. Amounts at the ends are then stated over it."""

AT_ADJUSTERS, AT_TAPE, AT_AXLE_ENDS = "adjusters", "tape", "axle_ends"

WEDGE_STEP = 0.5 * 0.017453292519943295
"""Wedges come in half-degree steps (US Navy NAVEDTRA 14050A, p. 191), in radians."""


class Spread(NamedTuple):
    """How far the left and the right adjusting point lie apart, metres, and where that is."""

    size: float
    at: str


class Adjuster(NamedTuple):
    """One way of moving an axle.

    `kind`: LATERAL moves it sideways, LONGITUDINAL turns it by moving its ends along the frame,
    TIE_ROD changes total toe, WEDGE changes caster of a side. `end`: the side whose end moves, or
    whose wedge is changed; None for both. `spread`: between the left and the right adjusting
    point, metres. `increment`: smallest step at the adjuster (metres; TIE_ROD: turns; WEDGE:
    radians), None for stepless. `travel`: how far it can still go either way, same unit, None for
    enough. `pitch`: advance of the thread that moves it, `arm`: steering-arm length of a tie rod,
    metres; `threads`: how many of the ends of its tube the turning works on. `at`: where the spread
    was taken, and so where amounts are stated: AT_ADJUSTERS as described, AT_TAPE as read, else
    AT_AXLE_ENDS.
    """

    kind: str
    end: str | None = None
    spread: float = AXLE_ENDS
    increment: float | None = None
    travel: float | None = None
    pitch: float | None = None
    arm: float | None = None
    threads: int = 2
    at: str = AT_ADJUSTERS

    def length_per_turn(self) -> float | None:
        """By how much one turn of the tube changes its length, metres."""
        return None if self.pitch is None else self.pitch * self.threads

    def toe_per_turn(self) -> float | None:
        """Total toe in radians that one turn of the tube makes.

        Each wheel turns by its end's movement over the arm; the movements of the two ends add up
        to the change of the rod, so the total is that change over the arm (arms square to the rod).
        """
        length = self.length_per_turn()
        return None if length is None or self.arm is None else length / self.arm


@lru_cache(maxsize=1024)
def usual_adjusters(steered: bool, spread: float | None) -> tuple[Adjuster, ...]:
    """What an axle that describes nothing is taken to have; `spread` as read on it, if it was."""
    over = spread_of(None, spread)
    turning = Adjuster(LONGITUDINAL, spread=over.size, at=over.at)
    if not steered:
        return (Adjuster(LATERAL), turning)
    return (turning, Adjuster(WEDGE, increment=WEDGE_STEP), Adjuster(TIE_ROD))


def spread_of(told: float | None, read: float | None) -> Spread:
    """The spread that amounts are stated over: as told of the adjuster, else as read."""
    if told is not None:
        return Spread(told, AT_ADJUSTERS)
    return Spread(AXLE_ENDS, AT_AXLE_ENDS) if read is None else Spread(read, AT_TAPE)
