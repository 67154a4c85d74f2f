"""The plan view: a vehicle seen from above, before and after side by side."""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from service.drawing import labels
from service.drawing.canvas import INK, Canvas, Picture, printable
from service.drawing.labels import (
    SIZE,
    Spoken,
    heading_of,
    spoken_of,
    width_of_line,
)
from service.drawing.metrics import ASCENT, DESCENT, LINE, width_of, wrapped
from service.drawing.stance import Drawn, drawn_scale, span_of
from service.drawing.subject import Round
from service.drawing.vehicle_shape import Place, draw_vehicle, write_inside
from service.drawing.words import Words
from service.geometry.vehicle import Vehicle

MARGIN = 12.0
LEADER = 12.0
LABELS, WIDE_LABELS, MANY = 176.0, 300.0, 4
"""Width of the column of labels, and of that beside more axles than `MANY`."""

TITLE, HEAD, NOTE = 15.0, 13.0, 11.0
OFFSET_ROOM = 30.0
"""Below the last axle: its offset dimension."""


class Panel(NamedTuple):
    """One round and the words above it, empty where there is only one."""

    round: Round
    name: str = ""


class _Sheet(NamedTuple):
    """What all panels share."""

    canvas: Canvas
    words: Words
    drawn: Drawn
    dimensions: float
    """Width of the column of distances."""
    labels: float

    @property
    def width(self) -> float:
        """Width of a panel."""
        return self.dimensions + 2 * self.drawn.half + LEADER + self.labels


def plan_view(
    panels: Sequence[Panel],
    words: Words,
    title: str = "",
    prefix: str = "plan",
    alike: Sequence[Round] = (),
    plain: bool = False,
) -> Picture:
    """Draw one or more rounds of one vehicle side by side, to one scale.

    `title` is a shop's own text, above the kind of vehicle. `prefix` keeps ids apart where several
    drawings stand in one page. Rounds that are drawn elsewhere, to be compared with these, are
    given as `alike`. A `plain` drawing says nothing of what was not read.
    """
    vehicle = panels[0].round.vehicle
    drawn = drawn_scale([*(panel.round for panel in panels), *alike])._replace(plain=plain)
    column = WIDE_LABELS if len(vehicle.axles) > MANY else LABELS
    sheet = _Sheet(Canvas(), words, drawn, _dimension_column(vehicle, words), column)
    width = 2 * MARGIN + len(panels) * sheet.width + (len(panels) - 1) * MARGIN
    top = _title(sheet, vehicle, title, width)
    bottom = top
    spoken = [
        [spoken_of(panel.round, axle, words) for axle in panel.round.vehicle.axles]
        for panel in panels
    ]
    for number, panel in enumerate(panels):
        left = MARGIN + number * (sheet.width + MARGIN)
        bottom = max(bottom, _panel(sheet, panel, spoken[number], left, top))
    height = _notes(sheet, width, bottom, panels)
    name = words.say("plan.title", vehicle=_kind(vehicle, words))
    if title:
        name = f"{printable(title)}: {name}"
    return sheet.canvas.finish(
        width, round(height), name, _description(panels, spoken, sheet), prefix, words.language
    )


def _kind(vehicle: Vehicle, words: Words) -> str:
    return words.say(f"vehicle.{vehicle.kind}")


def _title(sheet: _Sheet, vehicle: Vehicle, title: str, width: float) -> float:
    """Write the title and return where the panels begin."""
    room = width - 2 * MARGIN
    y = MARGIN + ASCENT * TITLE
    for line in wrapped(printable(title), room, TITLE, True, lines=2):
        sheet.canvas.text(MARGIN, y, line, TITLE, bold=True)
        y += LINE * TITLE
    heading = sheet.words.say("plan.title", vehicle=_kind(vehicle, sheet.words))
    for line in wrapped(heading, room, HEAD):
        sheet.canvas.text(MARGIN, y, line, HEAD)
        y += LINE * HEAD
    y -= 0.6 * HEAD
    sheet.canvas.line(MARGIN, y, width - MARGIN, y, 1.2)
    return y + 6


def _panel(
    sheet: _Sheet, panel: Panel, spoken: Sequence[Sequence[Spoken]], left: float, top: float
) -> float:
    """Draw one panel and return its lower end."""
    canvas, words = sheet.canvas, sheet.words
    y = top
    for line in wrapped(printable(panel.name), sheet.width, HEAD, True, lines=2):
        y += LINE * HEAD
        canvas.text(left, y, line, HEAD, bold=True)
    centre = left + sheet.dimensions + sheet.drawn.half
    y = _forward(sheet, centre, y + 6)
    vehicle = panel.round.vehicle
    front, rear = span_of(vehicle)
    place = Place(centre, y + 18 - front * sheet.drawn.per_metre, sheet.drawn)
    stances = draw_vehicle(canvas, panel.round, place)
    end = max(place.y(rear) + 12, place.y(vehicle.axles[-1].distance) + OFFSET_ROOM)
    _dimensions(sheet, vehicle, place, left)
    end = _reference(sheet, centre, end)
    end = max(end, _labels(sheet, vehicle, spoken, place, y))
    write_inside(canvas, panel.round, place, words, stances)
    return end


def _forward(sheet: _Sheet, centre: float, top: float) -> float:
    """An arrow to the front of the vehicle, with its word; returns the lower end."""
    word = sheet.words.say("plan.forward")
    y = top + ASCENT * SIZE
    sheet.canvas.text(centre + 9, y, word, SIZE)
    sheet.canvas.path(f"M{centre:.1f} {top + 16:.1f}V{top + 2:.1f}m-4 6l4 -6l4 6", 1.2)
    return top + 18


def _reference(sheet: _Sheet, centre: float, end: float) -> float:
    y = end + ASCENT * SIZE
    for line in wrapped(sheet.words.say("plan.centreline"), 2 * sheet.drawn.half, SIZE):
        sheet.canvas.text(centre, y, line, SIZE, anchor="middle")
        y += LINE * SIZE
    return y - LINE * SIZE + DESCENT * SIZE


def _stations(vehicle: Vehicle) -> list[float]:
    distances = [axle.distance for axle in vehicle.axles]
    return [0.0, *distances] if vehicle.towed else distances


def _dimension_column(vehicle: Vehicle, words: Words) -> float:
    sizes = [words.length(rear - front) for front, rear in pairwise(_stations(vehicle))]
    return max((width_of(size, SIZE) for size in sizes), default=0.0) + 16


def _dimensions(sheet: _Sheet, vehicle: Vehicle, place: Place, left: float) -> None:
    """Distances along the frame, left of the vehicle."""
    canvas = sheet.canvas
    x = left + sheet.dimensions - 8
    stations = _stations(vehicle)
    for station in stations:
        y = place.y(station)
        canvas.line(x - 4, y, place.centre - sheet.drawn.half + 10, y, 0.5)
    spans = list(pairwise(stations))
    middles = [(place.y(front) + place.y(rear)) / 2 for front, rear in spans]
    heights = [(ASCENT + DESCENT) * SIZE] * len(spans)
    tops = labels.stacked(middles, heights, 1.0, place.y(stations[0]) - 12)
    for (front, rear), top in zip(spans, tops, strict=True):
        ahead, behind = place.y(front), place.y(rear)
        tip = min(5.0, (behind - ahead) / 3)
        canvas.path(
            f"M{x:.1f} {ahead:.1f}V{behind:.1f}M{x - 2.2:.1f} {ahead + tip:.1f}L{x:.1f} "
            f"{ahead:.1f}L{x + 2.2:.1f} {ahead + tip:.1f}M{x - 2.2:.1f} {behind - tip:.1f}"
            f"L{x:.1f} {behind:.1f}L{x + 2.2:.1f} {behind - tip:.1f}",
            0.6,
        )
        size = sheet.words.length(rear - front)
        canvas.text(x - 6, top + ASCENT * SIZE, size, SIZE, anchor="end")


def _labels(
    sheet: _Sheet,
    vehicle: Vehicle,
    spoken: Sequence[Sequence[Spoken]],
    place: Place,
    top: float,
) -> float:
    """Write a block for each axle right of the vehicle, with a line to the axle."""
    words = sheet.words
    blocks = [
        labels.block(axle, said, place.y(axle.distance), sheet.labels, words, sheet.drawn.plain)
        for axle, said in zip(vehicle.axles, spoken, strict=True)
    ]
    anchors, heights = [block.anchor for block in blocks], [block.height for block in blocks]
    tops = labels.stacked(anchors, heights, labels.GAP, top)
    edge = place.centre + sheet.drawn.half - 4
    x = place.centre + sheet.drawn.half + LEADER
    for block, at in zip(blocks, tops, strict=True):
        level = at + 0.6 * SIZE
        sheet.canvas.path(f"M{edge:.1f} {block.anchor:.1f}h4L{x - 7:.1f} {level:.1f}h4", 0.6)
        y = at + ASCENT * SIZE
        for line in block.lines:
            wide = width_of_line(line) - line.indent
            sheet.canvas.runs(x + line.indent, y, line.text, line.bold, SIZE, wide)
            y += LINE * SIZE
    return tops[-1] + blocks[-1].height


def _notes(sheet: _Sheet, width: float, bottom: float, panels: Sequence[Panel]) -> float:
    """Say below the drawing what is true to scale and what is not; returns the sheet's height."""
    y = bottom + 8
    sheet.canvas.line(MARGIN, y, width - MARGIN, y, 0.6)
    y += ASCENT * NOTE + 4
    for note in _note_texts(sheet, panels):
        for line in wrapped(note, width - 2 * MARGIN, NOTE):
            sheet.canvas.text(MARGIN, y, line, NOTE, ink=INK)
            y += LINE * NOTE
    return y - LINE * NOTE + DESCENT * NOTE + MARGIN


def _note_texts(sheet: _Sheet, panels: Sequence[Panel]) -> list[str]:
    say, drawn = sheet.words.say, sheet.drawn
    notes = [say("plan.scale")]
    if any(panel.round.axles for panel in panels):
        notes.append(say("plan.factors", aims=drawn.aim_factor, offsets=drawn.offset_factor))
    if drawn.aims_cut or drawn.offsets_cut:
        notes.append(say("plan.cut"))
    if not drawn.plain and any(not panel.round.axles.get(axle.number) for panel in panels
           for axle in panel.round.vehicle.axles):  # fmt: skip
        notes.append(say("plan.broken"))
    return notes


def _description(
    panels: Sequence[Panel], spoken: Sequence[Sequence[Sequence[Spoken]]], sheet: _Sheet
) -> str:
    """The drawing in sentences, for a reader who hears it."""
    words = sheet.words
    told = []
    for panel, of_panel in zip(panels, spoken, strict=True):
        if panel.name:
            told.append(f"{printable(panel.name)}.")
        for axle, said in zip(panel.round.vehicle.axles, of_panel, strict=True):
            states = "; ".join(f"{one.value}, {one.state}" for one in said)
            if not states and sheet.drawn.plain:
                told.append(f"{heading_of(axle, words)}.")
            else:
                states = states or words.say("plan.not_read")
                told.append(f"{heading_of(axle, words)}: {states}.")
    return " ".join([*told, *_note_texts(sheet, panels)])
