"""Tables of a worksheet: axles, readings as taken, and what came of them."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from service.drawing.page import Cell, Table, Text
from service.drawing.reading_words import reading_name, taken_words
from service.drawing.subject import Judgement, Measure, Round, Session
from service.drawing.words import NONCONFORMING, Words
from service.geometry.vehicle import Vehicle

MATTERS: tuple[tuple[str, ...], ...] = (
    ("offset", "offset_difference"),
    ("thrust", "thrust_difference", "kingpin_difference"),
    ("toe", "toe_length", "toe_left", "toe_right"),
    ("setback", "skew"),
    ("camber_left",),
    ("camber_right",),
    ("cross_camber",),
    ("caster_left",),
    ("caster_right",),
    ("cross_caster",),
    ("wedge_left",),
    ("wedge_right",),
    ("wedge_difference",),
)
PAIR_MATTERS: tuple[tuple[str, ...], ...] = (("scrub", "span_difference"),)
"""Quantities by matter, in the order of the sheet; where none of a matter is judged, its first."""


class Row(NamedTuple):
    """One quantity of one axle or pair: its value and how it was judged, if it was."""

    quantity: str
    axle: int
    reference: int | None
    measure: Measure
    judged: Judgement | None

    @property
    def subject(self) -> tuple[str, int, int | None]:
        """What it speaks of, the same before and after."""
        return self.quantity, self.axle, self.reference


def rows_of(one: Round) -> list[Row]:
    """Every quantity that the sheet tells, axle by axle and then pair by pair."""
    rows: list[Row] = []
    for axle in one.vehicle.axles:
        judged = [f for f in one.findings if f.axle == axle.number and f.reference is None]
        told = dict(one.axles.get(axle.number, {}))
        if not axle.steered:
            told = {name: m for name, m in told.items() if name not in ("setback", "skew")}
        rows += _rows(told, judged, axle.number, None, MATTERS)
    for (front, rear), of_pair in one.pairs.items():
        judged = [f for f in one.findings if f.axle == rear and f.reference == front]
        rows += _rows(of_pair, judged, rear, front, PAIR_MATTERS)
    return rows


def _rows(
    told: Mapping[str, Measure],
    judged: Sequence[Judgement],
    axle: int,
    reference: int | None,
    matters: Iterable[Sequence[str]],
) -> Iterable[Row]:
    for matter in matters:
        found = [
            Row(f.quantity, axle, reference, f.measure, f) for f in judged if f.quantity in matter
        ]
        if not found:
            name = next((name for name in matter if name in told), None)
            found = [Row(name, axle, reference, told[name], None)] if name else []
        yield from found


def axle_table(vehicle: Vehicle, words: Words) -> Table:
    """Axles with their role and their distance from the reference point."""
    say = words.say
    headings = [say("head.axle"), say("head.role"), say(f"head.distance.{vehicle.kind}")]
    return Table(
        headings,
        [
            [
                Text(words.where(axle.number)),
                Text(say(f"role.{axle.role}")),
                Text(words.length(axle.distance)),
            ]
            for axle in vehicle.axles
        ],
    )


def readings_table(session: Session, words: Words) -> Table:
    """Readings as taken; one that its fellows contradict is said to be."""
    say = words.say
    rows: list[Sequence[Cell]] = []
    for taken in session.readings:
        name = reading_name(taken.kind, taken.axle, taken.reference, taken.side, words)
        told = taken_words(taken, words)
        if taken.suspect:
            told = f"{told}. {say('reading.suspect')}"
        rows.append([Text(name), Text(told, strong=taken.suspect)])
    return Table([say("head.reading"), say("head.as_taken")], rows, (2, 3))


def results_table(one: Round, words: Words) -> Table:
    """Geometry and verdicts of one round."""
    say = words.say
    headings = [say(f"head.{name}") for name in ("quantity", "value", "limits", "verdict")]
    rows = [
        [_named(row, words), _value(row, words), _limits(row, words), _verdict(row, words)]
        for row in rows_of(one)
    ]
    return Table(headings, rows, (3, 4, 2.4, 3))


def change_table(before: Round, after: Round, words: Words) -> Table:
    """The same of two rounds, side by side."""
    say = words.say
    headings = [
        say(f"head.{name}")
        for name in ("quantity", "before", "verdict_before", "after", "verdict_after", "limits")
    ]
    first = {row.subject: row for row in rows_of(before)}
    second = {row.subject: row for row in rows_of(after)}
    rows: list[Sequence[Cell]] = []
    for subject in dict.fromkeys([*first, *second]):
        old, new = first.get(subject), second.get(subject)
        named = new or old
        assert named is not None, "a subject comes from one of the two"
        rows.append(
            [
                _named(named, words),
                _value(old, words),
                _verdict(old, words),
                _value(new, words),
                _verdict(new, words),
                _limits(named, words),
            ]
        )
    return Table(headings, rows, (2.6, 3.2, 2.6, 3.2, 2.6, 2))


def _named(row: Row, words: Words) -> Text:
    where = words.where(row.axle, row.reference)
    return Text(words.say("plan.value", name=where, value=words.name(row.quantity)))


def _value(row: Row | None, words: Words) -> Text:
    if row is None:
        return Text(words.say("plan.not_read"))
    value = words.estimate(row.quantity, row.measure.value)
    give = words.size(row.quantity, row.measure.uncertainty)
    key = "result.assumed" if row.measure.assumed else "result.value"
    return Text(words.say(key, value=value, give=give))


def _limits(row: Row, words: Words) -> Text:
    if row.judged is None:
        return Text("")
    return Text(words.limits(row.quantity, row.judged.lower, row.judged.upper))


def _verdict(row: Row | None, words: Words) -> Text:
    if row is None:
        return Text("")
    if row.judged is None:
        return Text(words.say("plan.no_target"))
    verdict = words.verdict(row.judged.verdict)
    chance = words.probability(row.judged.probability)
    told = words.say("result.verdict", verdict=verdict, chance=chance)
    return Text(told, strong=row.judged.verdict == NONCONFORMING)
