"""Steps of a plan as a sentence that is read out at the truck."""

from service.geometry.planning.adjusters import TIE_ROD, WEDGE
from service.geometry.planning.plan import Move
from service.geometry.planning.scope import AIM, CENTRE, MATCH_WEDGES, SQUARE
from service.geometry.wording import angle_words, length_words

READING_NAMES = {
    "sightline": "Hang a sightline on",
    "frame_gap": "Tape to the frame",
    "setback_span": "Tape from the spring pins back to",
    "axle_span": "Tape between the ends of",
    "kingpin_span": "Tape from the kingpin to",
    "toe_width": "Measure the toe of",
    "toe_scale": "Measure the toe of",
    "wheel_angle": "Measure the wheel angles of",
    "caster_sweep": "Sweep the caster of",
    "wedge": "Read the wedges of",
}


def reading_words(kind: str, axle: int, reference: int | None, side: str | None) -> str:
    """The reading that would settle what is undecided."""
    where = f"axles {reference} and {axle}" if kind == "axle_span" else f"axle {axle}"
    of_side = f", {side} wheel" if side else ""
    return (
        f"{READING_NAMES[kind]} {where}{of_side}: this reading settles best what is undecided. "
        "Send it with the others, then follow the new plan."
    )


def move_words(move: Move, unit: str, denominator: int) -> str:
    """What to move, which way, how far, and where that amount is measured."""
    value, adjuster = move.value, move.value.adjuster
    assert adjuster is not None, "a move turns an adjuster"
    amount = abs(move.amount)
    if value.action == CENTRE:
        side = "right" if move.amount > 0 else "left"
        return (
            f"Axle {value.axle}: shift it {length_words(amount, unit, denominator)} to the {side}."
        )
    if value.action in (AIM, SQUARE):
        return _turn_words(move, length_words(amount, unit, denominator), unit, denominator)
    if value.action == MATCH_WEDGES and adjuster.kind == WEDGE:
        way = "rear" if move.amount > 0 else "front"
        return (
            f"Axle {value.axle}: change the {value.side} wedge by {angle_words(amount)}, thick end "
            f"further to the {way}; one wedge a side, never stacked. A stiff beam may follow by "
            "less: measure caster again."
        )
    return _toe_words(move)


def _turn_words(move: Move, amount: str, unit: str, denominator: int) -> str:
    value, adjuster = move.value, move.value.adjuster
    assert adjuster is not None, "a move turns an adjuster"
    # Aiming further right takes the right end rearward.
    forward, rearward = ("left", "right") if move.amount > 0 else ("right", "left")
    over = length_words(adjuster.spread, unit, denominator)
    at = "at the adjusters" if adjuster.given else "at the axle ends"
    if adjuster.end is None:
        how = (
            f"move the {forward} end {amount} forward and the {rearward} end {amount} rearward "
            f"(half of the difference each, {at}, {over} apart)"
        )
    else:
        way = "forward" if adjuster.end == forward else "rearward"
        how = (
            f"move the {adjuster.end} end {amount} {way} (the whole difference, {at}, {over} apart)"
        )
    return f"Axle {value.axle}: {how}."


def _toe_words(move: Move) -> str:
    value, adjuster = move.value, move.value.adjuster
    change = move.after - value.start
    way = "in" if change > 0 else "out"
    text = f"Axle {value.axle}: set toe {angle_words(change)} further {way}"
    if adjuster is not None and adjuster.kind == TIE_ROD and adjuster.toe_per_turn() is not None:
        longer = "longer" if change > 0 else "shorter"
        text += (
            f": turn the tie rod {abs(move.amount):.2f} turns {longer} (the other way where it "
            "lies ahead of the axle)"
        )
    return text + ". Clamp, then measure again."
