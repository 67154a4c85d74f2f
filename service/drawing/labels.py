"""What is written beside an axle or a pair, and where the blocks go so that none meets another."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from service.drawing.metrics import ASCENT, DESCENT, LINE, width_of, wrapped
from service.drawing.subject import Judgement, Measure, Round
from service.drawing.words import NONCONFORMING, Words
from service.geometry.vehicle import Axle

SIZE = 12.0
GAP = 7.0
"""Clear space between two blocks."""

INDENT = 10.0

GROUPS: tuple[tuple[str, ...], ...] = (
    ("offset", "offset_difference"),
    ("thrust", "thrust_difference", "kingpin_difference"),
    ("toe", "toe_length", "toe_left", "toe_right"),
    ("setback", "skew"),
    ("scrub", "span_difference"),
)
"""Quantities seen in plan, by matter; the first one told speaks for a matter without targets."""

_GROUP_OF = {name: place for place, group in enumerate(GROUPS) for name in group}

NOT_OF_EVERY_AXLE = ("setback", "skew")
"""Of an axle that does not steer these say what its thrust says: shown where they are judged."""


class Line(NamedTuple):
    """One line of a block: its text, and the part in bold that ends it."""

    text: str
    bold: str = ""
    indent: float = 0.0


class Block(NamedTuple):
    """Lines about one axle; `anchor` is where on the vehicle they belong."""

    lines: tuple[Line, ...]
    anchor: float

    @property
    def height(self) -> float:
        """From the top of its first line to the bottom of its last."""
        return ((len(self.lines) - 1) * LINE + ASCENT + DESCENT) * SIZE


class Said(NamedTuple):
    """A quantity to be written: its value, how it was judged, and the front axle of a pair."""

    quantity: str
    measure: Measure
    judged: Judgement | None
    reference: int | None


def said_of(one: Round, axle: Axle) -> list[Said]:
    """What is seen in plan of an axle, and of the pair that it is the rear axle of.

    That is all that is judged, and the main quantity of each matter that is not.
    """
    judged = [f for f in one.findings if f.axle == axle.number]
    left_out = () if axle.steered else NOT_OF_EVERY_AXLE
    of_axle = [f for f in judged if f.reference is None]
    found = _said(one.axles.get(axle.number, {}), of_axle, left_out, None)
    for (front, rear), told in one.pairs.items():
        if rear == axle.number:
            of_pair = [f for f in judged if f.reference == front]
            found += _said(told, of_pair, (), front)
    return found


def _said(
    told: Mapping[str, Measure],
    judged: Sequence[Judgement],
    left_out: Sequence[str],
    reference: int | None,
) -> list[Said]:
    by_group: dict[int, list[Said]] = {}
    for one in judged:
        place = _GROUP_OF.get(one.quantity)
        if place is not None:
            said = Said(one.quantity, one.measure, one, reference)
            by_group.setdefault(place, []).append(said)
    found: list[Said] = []
    for place, group in enumerate(GROUPS):
        if place in by_group:
            found += by_group[place]
            continue
        for name in group:
            if name in told and name not in left_out:
                found.append(Said(name, told[name], None, reference))
                break
    return found


class Spoken(NamedTuple):
    """A quantity in words: its value and how it was judged; `broken` where it does not conform."""

    value: str
    state: str
    broken: bool


def spoken_of(one: Round, axle: Axle, words: Words) -> list[Spoken]:
    """The same as `said_of`, in words."""
    return [
        Spoken(
            value_words(said, words),
            state_words(said, words),
            said.judged is not None and said.judged.verdict == NONCONFORMING,
        )
        for said in said_of(one, axle)
    ]


def value_words(one: Said, words: Words) -> str:
    """A quantity by name with its value and direction."""
    name = words.name(one.quantity)
    if one.reference is not None:
        name = words.say("plan.with_axle", name=name, axle=one.reference)
    value = words.estimate(one.quantity, one.measure.value)
    return words.say("plan.value", name=name, value=value)


def state_words(one: Said, words: Words) -> str:
    """How it was judged."""
    return words.say("plan.no_target") if one.judged is None else words.verdict(one.judged.verdict)


def heading_of(axle: Axle, words: Words) -> str:
    """An axle by number and role."""
    return f"{words.where(axle.number)}, {words.say(f'role.{axle.role}')}"


def block(
    axle: Axle,
    said: Iterable[Spoken],
    anchor: float,
    width: float,
    words: Words,
    plain: bool = False,
) -> Block:
    """The lines of a block, wrapped to a width; what does not conform is set in bold.

    An axle of which nothing is told was not read, unless the drawing is a plain one.
    """
    lines = [Line("", text) for text in wrapped(heading_of(axle, words), width, SIZE, True)]
    for one in said:
        lines += _lines(one, width)
    if len(lines) == 1 and not plain:
        lines += [Line(text) for text in wrapped(words.say("plan.not_read"), width, SIZE)]
    return Block(tuple(lines), anchor)


def _lines(one: Spoken, width: float) -> list[Line]:
    """Value and state on one line where they fit, else the state below, set in."""
    value, state, broken = one
    joined = Line(f"{value}; ", state) if broken else Line(f"{value}; {state}")
    if width_of_line(joined) <= width:
        return [joined]
    lines = [Line(part) for part in wrapped(value, width, SIZE)]
    for part in wrapped(state, width - INDENT, SIZE, broken):
        lines.append(Line("", part, INDENT) if broken else Line(part, "", INDENT))
    return lines


def width_of_line(line: Line) -> float:
    """The most room that a line takes."""
    return line.indent + width_of(line.text, SIZE) + width_of(line.bold, SIZE, True)


def stacked(
    anchors: Sequence[float], heights: Sequence[float], gap: float, top: float
) -> list[float]:
    """Tops of blocks in their order, each as near to its anchor as the others let it.

    Blocks that would meet form a heap that is centred on their anchors (the least squares of
    their shifts, by pooling neighbours); no block begins above `top`.
    """
    heaps: list[tuple[float, float, int]] = []
    for anchor, height in zip(anchors, heights, strict=True):
        start, size, count = anchor - height / 2, height, 1
        while heaps and heaps[-1][0] + heaps[-1][1] + gap > start:
            above, above_size, above_count = heaps.pop()
            # Where this heap alone would put its first top, with the other one laid above it.
            start = (above * above_count + (start - above_size - gap) * count) / (
                above_count + count
            )
            size, count = above_size + gap + size, above_count + count
        heaps.append((max(start, top), size, count))
    return _tops(heaps, heights, gap)


def _tops(
    heaps: Sequence[tuple[float, float, int]], heights: Sequence[float], gap: float
) -> list[float]:
    tops: list[float] = []
    for start, _, count in heaps:
        at = start
        for height in heights[len(tops) : len(tops) + count]:
            tops.append(at)
            at += height + gap
    return tops
