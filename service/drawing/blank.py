"""A worksheet to be filled in by hand, in the order the readings are taken in the yard."""

from collections.abc import Iterable, Sequence
from itertools import pairwise

from service.drawing.cautions import cautions_block
from service.drawing.page import (
    Block,
    Cell,
    Facts,
    Fill,
    Item,
    Items,
    Lines,
    Page,
    Paragraph,
    Pictures,
    Section,
    Table,
    Text,
)
from service.drawing.plan_view import Panel, plan_view
from service.drawing.reading_words import mark_name, reading_name
from service.drawing.result_tables import axle_table
from service.drawing.sheet import FACTS, Blank, Form
from service.drawing.subject import Round
from service.drawing.words import Words, words_of
from service.drawing.worksheet import closing, page
from service.geometry.vehicle import Axle, Vehicle

CHECKS = (
    "ride_height",
    "air",
    "suspension",
    "u_bolts",
    "frame",
    "tyres",
    "bearings",
    "steering",
)
"""Looked at before measuring (Hendrickson 17730-283; Freightliner 35-29; TM 5-3820-256-24-3)."""

POSITION = ("level", "straight", "roll_out", "no_brake", "on_wheels", "chocks")
"""How the vehicle is brought to rest (Hendrickson 17730-283; Michelin truck tyre manual)."""
POSITION_TOWED = (
    "level",
    "straight_towed",
    "roll_out",
    "no_brake",
    "slider",
    "on_wheels",
    "chocks",
)

ORDER = (
    "sightline",
    "frame_gap",
    "kingpin_span",
    "axle_span",
    "setback_span",
    "wheel_angle",
    "caster_sweep",
    "wedge",
    "toe_width",
    "toe_scale",
)
"""Rolled in straight, first what shows where axles stand and aim, toe last."""

USUAL = frozenset(
    {"sightline", "frame_gap", "kingpin_span", "setback_span", "wheel_angle", "wedge", "toe_width"}
)

MARKS: dict[str, tuple[str, ...]] = {
    "sightline": ("left", "right"),
    "frame_gap": ("left", "right"),
    "kingpin_span": ("left", "right", "spread"),
    "axle_span": ("left", "right", "spread"),
    "setback_span": ("left", "right", "spread"),
    "wheel_angle": ("camber", "caster", "toe"),
    "caster_sweep": ("turn", "camber_left_turn", "camber_right_turn"),
    "wedge": ("left", "left_thick_end", "right", "right_thick_end"),
    "toe_width": ("front", "rear", "baseline"),
    "toe_scale": ("toe", "baseline"),
}

IN_DEGREES = frozenset({"wheel_angle", "caster_sweep", "wedge"})
OF_ONE_WHEEL = frozenset({"wheel_angle", "caster_sweep"})
OF_STEERED = frozenset({"setback_span", "wheel_angle", "caster_sweep", "wedge"})
OF_UNSTEERED = frozenset({"axle_span", "kingpin_span"})


def blank_worksheet(blank: Blank, form: Form) -> Page:
    """Lay out an empty sheet for a vehicle."""
    words = words_of(form.language, form.unit, form.denominator)
    say, details = words.say, blank.details
    picture = plan_view([Panel(Round(blank.vehicle))], words, plain=True)
    sections = [
        _vehicle(blank, words),
        Section(say("blank.checks"), [_ticks([say(f"check.{name}") for name in CHECKS])]),
        Section(say("blank.position"), [_ticks(_positions(blank.vehicle, words))]),
        Section(say("sheet.readings"), list(_readings(blank, words))),
        Section(say("sheet.plan_view"), [Pictures([picture], 0.5)]),
        Section(say("sheet.work_done"), [Lines(4)], whole=True),
        Section(say("sheet.cautions"), [cautions_block((), words)]),
        closing(details, words),
    ]
    return page(details, form, words, details.number, sections, "blank.title", None)


def _vehicle(blank: Blank, words: Words) -> Section:
    say, given = words.say, dict(blank.details.facts)
    rows: list[tuple[str, Cell]] = [(say("fact.kind"), Text(say(f"vehicle.{blank.vehicle.kind}")))]
    for name in FACTS:
        text = given.get(name, "")
        rows.append((say(f"fact.{name}"), Text(text, own=True) if text else Fill()))
    return Section(say("sheet.vehicle"), [Facts(rows), axle_table(blank.vehicle, words)])


def _ticks(texts: Iterable[str]) -> Items:
    return Items("box", [Item(Text(text)) for text in texts])


def _positions(vehicle: Vehicle, words: Words) -> list[str]:
    names = POSITION_TOWED if vehicle.towed else POSITION
    return [words.say(f"position.{name}") for name in names]


def _readings(blank: Blank, words: Words) -> Iterable[Block]:
    """A table for each kind of reading, in the order of the yard."""
    wanted = [kind for kind in ORDER if kind in (blank.readings or USUAL)]
    for kind in wanted:
        rows = list(_rows(kind, blank.vehicle, words))
        if rows:
            unit = "°" if kind in IN_DEGREES else words.unit
            yield Paragraph(Text(words.say(f"how.{kind}", unit=unit)))
            yield Table(
                [words.say("head.reading"), *(mark_name(name, words) for name in MARKS[kind])],
                rows,
                (2, *(1 for _ in MARKS[kind])),
            )


def _rows(kind: str, vehicle: Vehicle, words: Words) -> Iterable[Sequence[Cell]]:
    for axle, reference, side in _places(kind, vehicle):
        name = reading_name(kind, axle, reference, side, words)
        yield [Text(name), *(Fill(wide=8) for _ in MARKS[kind])]


def _places(kind: str, vehicle: Vehicle) -> Iterable[tuple[int, int | None, str | None]]:
    """Axle, other axle and side of every reading of a kind that the vehicle can give."""
    straight = [axle.number for axle in vehicle.axles if not axle.steered]
    if kind == "axle_span":
        for front, rear in pairwise(straight):
            yield rear, front, None
        return
    for place, axle in enumerate(vehicle.axles):
        if _gives(kind, vehicle, axle, place):
            reference = _reference(kind, vehicle)
            for side in ("left", "right") if kind in OF_ONE_WHEEL else (None,):
                yield axle.number, reference, side


def _gives(kind: str, vehicle: Vehicle, axle: Axle, place: int) -> bool:
    if kind == "sightline":
        return place > 0 or vehicle.towed
    if kind == "kingpin_span":
        return vehicle.towed
    return axle.steered if kind in OF_STEERED else True


def _reference(kind: str, vehicle: Vehicle) -> int | None:
    if kind != "sightline":
        return None
    return None if vehicle.towed else vehicle.axles[0].number
