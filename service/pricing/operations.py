"""The operations that can be billed, and which of them a plan step or a cured finding is.

The names are this service's own; a shop's codes stand beside them on its rate card.
"""

from typing import NamedTuple


class Operation(NamedTuple):
    """One kind of work.

    `scope` is what it is done to: an `axle`, or the `vehicle` as a whole. `corrects` says that
    it changes the geometry, as against reading it or getting there.
    """

    name: str
    scope: str
    corrects: bool
    meaning: str


OPERATIONS: dict[str, Operation] = {
    entry.name: entry
    for entry in (
        Operation(
            "inspect",
            "vehicle",
            False,
            "Look at suspension, steering, wheel bearings and tyres before anything is read.",
        ),
        Operation(
            "measure",
            "vehicle",
            False,
            "Take the first set of readings and work out the geometry of every axle.",
        ),
        Operation(
            "extra_reading",
            "vehicle",
            False,
            "Take one more reading because the first set left a finding undecided.",
        ),
        Operation(
            "centre_axle",
            "axle",
            True,
            "Move an axle sideways until it sits on the centreline of the frame.",
        ),
        Operation(
            "aim_axle",
            "axle",
            True,
            "Turn an axle that does not steer until it points where it should.",
        ),
        Operation(
            "square_steer_axle",
            "axle",
            True,
            "Move one end of a steer axle until it stands square to the frame.",
        ),
        Operation(
            "match_wedges",
            "axle",
            True,
            "Change the caster wedges until both sides of a steer axle lean alike.",
        ),
        Operation(
            "set_toe",
            "axle",
            True,
            "Turn the tie-rod ends of a steer axle until its toe is right.",
        ),
        Operation(
            "remeasure",
            "vehicle",
            False,
            "Take the readings again after correcting, to prove the result.",
        ),
        Operation(
            "road_test",
            "vehicle",
            False,
            "Drive the vehicle to check straight running and the steering wheel.",
        ),
        Operation(
            "callout",
            "vehicle",
            False,
            "Go to where the vehicle stands; can be priced by distance with a base plus steps.",
        ),
    )
}
_ORDER = {name: place for place, name in enumerate(OPERATIONS)}

PLAN_ACTIONS: dict[str, str] = {
    "inspect": "inspect",
    "read": "extra_reading",
    "centre": "centre_axle",
    "aim": "aim_axle",
    "square": "square_steer_axle",
    "match_wedges": "match_wedges",
    "set_toe": "set_toe",
}
"""The operation that a plan step of each action is billed as."""

CORRECTION_OF: dict[str, str] = {
    "offset": "centre_axle",
    "offset_difference": "centre_axle",
    "thrust": "aim_axle",
    "thrust_difference": "aim_axle",
    "kingpin_difference": "aim_axle",
    "scrub": "aim_axle",
    "span_difference": "aim_axle",
    "setback": "square_steer_axle",
    "skew": "square_steer_axle",
    "caster_left": "match_wedges",
    "caster_right": "match_wedges",
    "cross_caster": "match_wedges",
    "wedge_left": "match_wedges",
    "wedge_right": "match_wedges",
    "wedge_difference": "match_wedges",
    "toe": "set_toe",
    "toe_length": "set_toe",
    "toe_left": "set_toe",
    "toe_right": "set_toe",
}
"""The operation that corrects each quantity; camber is not here, none of the operations does it."""

PAIR_QUANTITIES = frozenset({"scrub", "span_difference"})
"""Quantities of two neighbouring axles, which moving either one can cure."""


def place(operation: str) -> int:
    """Where an operation stands on a bill: in the order the trade works."""
    return _ORDER[operation]
