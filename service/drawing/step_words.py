"""Steps of a plan, and what the scales must read after them, in sentences of any language."""

from math import ceil, floor, inf

from service.drawing.reading_words import mark_name, reading_name
from service.drawing.sheet import Done
from service.drawing.subject import Expected, Mark, Remainder, Step
from service.drawing.words import Words
from service.geometry.planning.words import HUNDREDTH, fitting, step_of
from service.geometry.wording import LENGTHS, angle_words

BOTH_ENDS = "both_ends"

SAME = 1e-6
"""Share of a step of a scale within which a mark is on that step."""


def done_words(done: Done, words: Words) -> str:
    """What was done and where, in the words of a bill."""
    what = words.say(f"operation.{done.operation}")
    if done.axle is None:
        return what
    form = "line.axle" if done.side is None else f"line.axle_{done.side}"
    return words.say(form, what=what, axles=done.axle)


def step_words(step: Step, words: Words) -> str:
    """What to do, where, which way and how far."""
    say, axle = words.say, step.axle
    if step.action == "inspect":
        return say(f"step.inspect.{step.subject}")
    if step.action == "read":
        assert axle is not None, "a reading is taken on an axle"
        name = reading_name(step.subject or "", axle, step.reference, step.side, words)
        return say("step.read", reading=name)
    amount = _amount(step, words)
    if step.action == "centre":
        return say(f"step.centre.{step.direction}", axle=axle, amount=amount)
    if step.action == "match_wedges":
        return say(f"step.wedge.{step.side}.{step.direction}", axle=axle, amount=amount)
    if step.action == "set_toe":
        return _toe_words(step, amount, words)
    where = say(f"step.at_{step.at}")
    if step.spread is not None:
        where = say("step.apart", where=where, spread=words.length(step.spread))
    if step.ends == BOTH_ENDS:
        return say(f"step.turn.both.{step.side}", axle=axle, amount=amount, where=where)
    key = f"step.turn.{step.side}.{step.direction}"
    return say(key, axle=axle, amount=amount, where=where)


def _amount(step: Step, words: Words) -> str:
    if step.amount is None:
        return ""
    amount = _fitting(step.amount, step.least, step.most, step.length, words)
    return words.length(amount) if step.length else angle_words(amount)


def _fitting(
    value: float, least: float | None, most: float | None, length: bool, words: Words
) -> float:
    """The step of the scale nearest to a value that lies within its band, if one does."""
    low = -inf if least is None else least
    high = inf if most is None else most
    return fitting(value, low, high, _scale_step(length, words))


def _scale_step(length: bool, words: Words) -> float:
    return step_of(words.unit, words.denominator) if length else HUNDREDTH


def _toe_words(step: Step, amount: str, words: Words) -> str:
    told = words.say(f"step.toe.{step.direction}", axle=step.axle, amount=amount)
    if step.turns is not None:
        turned = words.say(f"step.toe.turns.{step.direction}", turns=f"{step.turns:.2f}")
        told = f"{told} {turned}"
    return f"{told} {words.say('step.toe.clamp')}"


def expected_words(expected: Expected, words: Words) -> str:
    """What one reading must show when its step is right."""
    name = reading_name(
        expected.kind, expected.axle, expected.reference, expected.side, words, short=True
    )
    marks = "; ".join(_mark(mark, words) for mark in expected.marks)
    return words.say("step.expect", reading=name, marks=marks)


def _mark(mark: Mark, words: Words) -> str:
    """The mark as a step of its scale within the band, and the band drawn in to such steps."""
    name = mark_name(mark.name, words)
    fits = _fitting(mark.value, mark.lower, mark.upper, mark.length, words)
    value = words.signed(fits, mark.length)
    if mark.lower is None or mark.upper is None:
        return words.say("step.mark", name=name, value=value)
    step = _scale_step(mark.length, words)
    lowest, highest = ceil(mark.lower / step - SAME) * step, floor(mark.upper / step + SAME) * step
    if lowest >= highest:
        return words.say("step.mark", name=name, value=value)
    low, high = words.signed(lowest, mark.length), words.signed(highest, mark.length)
    return words.say("step.mark.between", name=name, value=value, low=low, high=high)


def remainder_words(one: Remainder, words: Words) -> str:
    """A finding that no allowed move brings inside, and by how much."""
    where, name = words.where(one.axle, one.reference), words.name(one.quantity)
    if not one.beyond:
        return words.say("remaining.near", where=where, name=name)
    size = words.length(one.beyond) if one.quantity in LENGTHS else angle_words(one.beyond)
    return words.say("remaining.beyond", where=where, name=name, size=size)
