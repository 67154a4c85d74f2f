"""Steps of a plan as sentences that are read out at the truck."""

from service.geometry.finding_words import QUANTITY_NAMES, where_words
from service.geometry.planning.adjusters import AT_ADJUSTERS, AT_AXLE_ENDS, AT_TAPE, TIE_ROD
from service.geometry.planning.plan import Move
from service.geometry.planning.rows import AIM, CENTRE, MATCH_WEDGES, SQUARE
from service.geometry.quantities import Quantity
from service.geometry.wording import angle_words, length_words

READINGS = {
    "sightline": "Hang a sightline on {axle} against a scale at {reference}",
    "frame_gap": "Tape {axle} to the frame, both sides",
    "setback_span": "Tape from the spring pins to {axle}, both sides",
    "axle_span": "Tape between the ends of {reference} and {axle}, both sides",
    "kingpin_span": "Tape from the pin to the ends of {axle}, both sides",
    "toe_width": "Measure the toe of {axle}, across the front and the rear of its tyres",
    "toe_scale": "Read the toe of {axle} on a scale",
    "wheel_angle": "Measure the angles of the {side} wheel of {axle}",
    "caster_sweep": "Sweep the {side} wheel of {axle} for caster",
    "wedge": "Read the wedges of {axle}, both sides",
}

MEASURED = {
    AT_ADJUSTERS: "at the adjusting points",
    AT_TAPE: "at the points the tape was held to",
    AT_AXLE_ENDS: "at the axle ends",
}

MENDED_ELSEWHERE = {
    "camber_left": "camber is machined into most axles",
    "camber_right": "camber is machined into most axles",
    "cross_camber": "camber is machined into most axles",
}
"""Why no adjuster serves (Spicer AXAG400, p. 20, and Prevost PA1593: not adjustable on most)."""


def reading_words(
    kind: str, axle: int, reference: int | None, side: str | None, *, again: bool
) -> str:
    """The reading that would settle what is undecided, `again` if it was taken before."""
    asked = READINGS[kind].format(
        axle=f"axle {axle}",
        reference="the pin" if reference is None else f"axle {reference}",
        side=side,
    )
    more = " once more" if again else ""
    return (
        f"{asked}{more}: of all single readings this one settles best what is undecided. "
        "Send it along with the others and follow the new plan."
    )


def move_words(move: Move, unit: str, denominator: int) -> str:
    """What to move, which way, how far, and where that amount is measured."""
    axle, action = move.value.axle, move.value.action
    if action == CENTRE:
        side = "right" if move.amount > 0 else "left"
        return f"Axle {axle}: shift it {size_words(move.amount, unit, denominator)} to the {side}."
    if action in (AIM, SQUARE):
        return f"Axle {axle}: {_turn_words(move, unit, denominator)}"
    if action == MATCH_WEDGES:
        way = "rear" if move.amount > 0 else "front"
        return (
            f"Axle {axle}: change the {move.value.side} wedge by {angle_words(move.amount)}, thick "
            f"end further to the {way}. One wedge a side, never stacked. A stiff beam may follow "
            "by less: measure caster again."
        )
    return f"Axle {axle}: {_toe_words(move)}"


def size_words(metres: float, unit: str, denominator: int) -> str:
    """The size of a length, and of one too small for the scale that it is smaller than its step."""
    text = length_words(metres, unit, denominator)
    if not metres or any(digit in "123456789" for digit in text):
        return text
    step = {"in": f"1/{denominator} in", "mm": "0.1 mm", "cm": "0.01 cm"}[unit]
    return f"less than {step}"


def _turn_words(move: Move, unit: str, denominator: int) -> str:
    adjuster = move.value.adjuster
    assert adjuster is not None, "a move turns an adjuster"
    amount = size_words(move.amount, unit, denominator)
    # Aiming further right takes the right end rearward.
    forward, rearward = ("left", "right") if move.amount > 0 else ("right", "left")
    over = length_words(adjuster.spread, unit, denominator)
    where = f"measured {MEASURED[adjuster.at]}, {over} apart"
    if adjuster.end is None:
        return (
            f"move the {forward} end {amount} forward and the {rearward} end {amount} rearward, "
            f"{where}. Each end moves half of the difference."
        )
    way, stays = ("forward", rearward) if adjuster.end == forward else ("rearward", forward)
    return (
        f"move the {adjuster.end} end {amount} {way}, {where}. The {stays} end stays, so that this "
        "one moves the whole difference."
    )


def _toe_words(move: Move) -> str:
    adjuster = move.value.adjuster
    change = move.after - move.value.start
    way, turned, instead = (
        ("in", "longer", "shorter") if change > 0 else ("out", "shorter", "longer")
    )
    text = f"set total toe {angle_words(change)} further {way}"
    if adjuster is not None and adjuster.kind == TIE_ROD and adjuster.toe_per_turn() is not None:
        text += (
            f": turn the tie rod {_turns_words(abs(move.amount))} {turned} ({instead} if it lies "
            "ahead of the axle)"
        )
    return f"{text}. Clamp the tie rod and measure toe again."


def _turns_words(turns: float) -> str:
    if turns < 0.005:
        return "less than 0.01 turn"
    number = f"{turns:.2f}".rstrip("0").rstrip(".")
    return f"{number} turn" if turns <= 1 else f"{number} turns"


def remainder_words(quantity: Quantity, beyond: float, unit: str, denominator: int) -> str:
    """What stays outside its limits even after the plan, by how much, and that no move helps."""
    name = f"{where_words(quantity.axle, quantity.reference)}: {QUANTITY_NAMES[quantity.name]}"
    if not beyond:
        return (
            f"{name} comes within its limits, but too near to one of them to be sure of it. A "
            "surer reading would tell."
        )
    size = size_words(beyond, unit, denominator) if quantity.length else angle_words(beyond)
    why = MENDED_ELSEWHERE.get(quantity.name, "no move that the adjusters allow brings it inside")
    return f"{name} stays {size} beyond its limit; {why}."
