"""Steps of a plan as sentences that are read out at the truck."""

import math

from service.geometry.finding_words import QUANTITY_NAMES, where_words
from service.geometry.planning.adjusters import AT_ADJUSTERS, AT_AXLE_ENDS, AT_TAPE, TIE_ROD
from service.geometry.planning.moving import increment_of
from service.geometry.planning.plan import Move
from service.geometry.planning.rows import AIM, CENTRE, MATCH_WEDGES, SET_TOE, SQUARE
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

HUNDREDTH = math.radians(0.01)
"""The step that display texts of angles round to."""

ANGLED = (SET_TOE, MATCH_WEDGES)
"""Actions whose amount is an angle."""

_STEP_WORDS = {"mm": "0.1 mm", "cm": "0.01 cm"}

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
    amount = amount_words(move, unit, denominator)
    return move_sentence(move, amount, beside_words(move, unit, denominator))


def move_sentence(move: Move, amount: str, beside: str) -> str:
    """The same with the words of `amount_words` and `beside_words` as given."""
    axle, action = move.value.axle, move.value.action
    if action == CENTRE:
        side = "right" if move.amount > 0 else "left"
        return f"Axle {axle}: shift it {amount} to the {side}."
    if action in (AIM, SQUARE):
        return f"Axle {axle}: {_turn_sentence(move, amount, beside)}"
    if action == MATCH_WEDGES:
        way = "rear" if move.amount > 0 else "front"
        return (
            f"Axle {axle}: change the {move.value.side} wedge by {amount}, thick "
            f"end further to the {way}. One wedge a side, never stacked. A stiff beam may follow "
            "by less: measure caster again."
        )
    return f"Axle {axle}: {_toe_sentence(move, amount, beside)}"


def amount_words(move: Move, unit: str, denominator: int) -> str:
    """How far to move, and how many steps or turns that is of what moves a length."""
    if move.value.action in ANGLED:
        return change_words(move)
    adjuster, steps = move.value.adjuster, _steps_of(move)
    text = moved_words(move, unit, denominator)
    if adjuster is None:
        return text
    if adjuster.pitch is not None:  # A thread that is screwed to move an axle.
        return f"{text} ({turns_words(move)} of its thread)"
    if adjuster.increment is None:
        return text
    one = size_words(adjuster.increment, unit, denominator)
    return f"{text} ({steps} {'step' if steps == 1 else 'steps'} of {one})"


def beside_words(move: Move, unit: str, denominator: int) -> str:
    """What is told beside the amount: the spread of an axle that is turned, turns of a tie rod."""
    adjuster, action = move.value.adjuster, move.value.action
    if adjuster is None:
        return ""
    if action in (AIM, SQUARE):
        return length_words(adjuster.spread, unit, denominator)
    return turns_words(move) if action == SET_TOE and adjuster.toe_per_turn() is not None else ""


def size_words(metres: float, unit: str, denominator: int) -> str:
    """The size of a length, and of one too small for the scale that it is smaller than its step."""
    text = length_words(metres, unit, denominator)
    if not metres or any(digit in "123456789" for digit in text):
        return text
    return f"less than {_STEP_WORDS.get(unit) or f'1/{denominator} in'}"


def moved_words(move: Move, unit: str, denominator: int) -> str:
    """How far to move a length: a whole step of the scale that makes the step right."""
    amount = move.amount
    if not _steps_of(move):
        amount = fitting(amount, move.least, move.most, step_of(unit, denominator))
    return size_words(amount, unit, denominator)


def change_words(move: Move) -> str:
    """How far to change an angle, in hundredths of a degree that make the step right."""
    start = move.value.start
    lower, upper = move.band
    return angle_words(fitting(move.after - start, lower - start, upper - start, HUNDREDTH))


def turns_words(move: Move) -> str:
    """Turns of a thread: a fraction where they are sixteenths of a turn, else two decimals."""
    adjuster, per_turn = move.value.adjuster, 1.0
    if adjuster is not None and adjuster.kind != TIE_ROD:
        per_turn = adjuster.length_per_turn() or 1.0
    turns, least, most = move.amount / per_turn, move.least / per_turn, move.most / per_turn
    if abs(turns * 16 - round(turns * 16)) > 1e-6 and not _steps_of(move):
        turns = fitting(turns, least, most, 0.01)
    return _number_of_turns(abs(turns))


def fitting(value: float, lower: float, upper: float, step: float) -> float:
    """The whole step nearest to a value that lies within limits; the value itself if none does."""
    steps = steps_within(value, lower, upper, step)
    return value if steps is None else steps * step


def steps_within(value: float, lower: float, upper: float, step: float) -> int | None:
    """How many whole steps lie nearest to a value and within limits; None if none do."""
    count = value / step
    whole = math.floor(count)
    if whole + 1 - count < count - whole:
        whole += 1
    if lower <= whole * step <= upper:
        return whole
    other = whole + (count > whole) - (count < whole)
    return other if lower <= other * step <= upper else None


def step_of(unit: str, denominator: int) -> float:
    """The step that display texts of lengths round to, metres."""
    return {"in": 0.0254 / denominator, "mm": 1e-4, "cm": 1e-4}[unit]


def _steps_of(move: Move) -> int:
    """How many steps its adjuster moves, 0 of a stepless one."""
    adjuster = move.value.adjuster
    increment = None if adjuster is None else increment_of(adjuster)
    return 0 if increment is None else round(abs(move.amount) / increment)


def _turn_sentence(move: Move, amount: str, over: str) -> str:
    adjuster = move.value.adjuster
    assert adjuster is not None, "a move turns an adjuster"
    # Aiming further right takes the right end rearward.
    forward, rearward = ("left", "right") if move.amount > 0 else ("right", "left")
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


def _toe_sentence(move: Move, amount: str, turns: str) -> str:
    adjuster = move.value.adjuster
    way, turned, instead = (
        ("in", "longer", "shorter")
        if move.after > move.value.start
        else ("out", "shorter", "longer")
    )
    text = f"set total toe {amount} further {way}"
    if adjuster is not None and adjuster.toe_per_turn() is not None:
        text += f": turn the tie rod {turns} {turned} ({instead} if it lies ahead of the axle)"
    return f"{text}. Clamp the tie rod and measure toe again."


def _number_of_turns(turns: float) -> str:
    if turns < 0.005:
        return "less than 0.01 turn"
    sixteenths = round(turns * 16)
    if abs(turns * 16 - sixteenths) < 1e-6:
        number = length_words(sixteenths * 0.0254 / 16, "in", 16).removesuffix(" in")
    else:
        number = f"{turns:.2f}".rstrip("0").rstrip(".")
    return f"{number} turn" if turns <= 1 else f"{number} turns"


def remainder_words(quantity: Quantity, beyond: float, unit: str, denominator: int) -> str:
    """What stays outside its limits even after the plan, by how much, and that no move helps."""
    if not beyond:
        return remainder_sentence(quantity, "")
    size = size_words(beyond, unit, denominator) if quantity.length else angle_words(beyond)
    return remainder_sentence(quantity, size)


def remainder_sentence(quantity: Quantity, size: str) -> str:
    """The same with the words of how far it stays outside as given, none where it comes within."""
    name = f"{where_words(quantity.axle, quantity.reference)}: {QUANTITY_NAMES[quantity.name]}"
    if not size:
        return (
            f"{name} comes within its limits, but too near to one of them to be sure of it. A "
            "surer reading would tell."
        )
    why = MENDED_ELSEWHERE.get(
        quantity.name, "no move that the adjusters allow was found to bring it inside"
    )
    return f"{name} stays {size} beyond its limit; {why}."
