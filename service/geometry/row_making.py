"""Turns the shapes of readings into observation equations over numbered unknowns."""

from collections.abc import Callable, Sequence

from service.geometry.places import CENTRING, FIRST_AXLE, WIDTH
from service.geometry.readings import Shape
from service.geometry.rows import (
    AxleSpanRow,
    CasterSweepRow,
    CentredRow,
    DirectRow,
    FrameGapRow,
    KingpinSpanRow,
    Row,
    SetbackSpanRow,
    ToeScaleRow,
    ToeWidthRow,
    WheelToeRow,
)
from service.geometry.sightline_rows import SightlineRow, SightlineSpreadRow, ToedSightlineRow

SIGN = {"left": 1.0, "right": -1.0}
WIDTH_OF_NUMBERS = {
    "sightline": 4,
    "frame_gap": 3,
    "setback_span": 4,
    "axle_span": 4,
    "kingpin_span": 4,
    "toe_width": 4,
    "toe_scale": 3,
    "wheel_angle": 2,
    "caster_sweep": 4,
    "wedge": 3,
}


class RowMaker:
    """Rows, unknowns and number places of one pattern.

    `unknowns` maps (name, axle place) to a number, names being "slope", "beam", "offset", "toe",
    "camber_left" and so on; `assumed` lists (axle place, unknown) of axles taken as centred.
    """

    def __init__(
        self,
        towed: bool,
        axles: Sequence[tuple[int, str, bool, bool, bool]],
        shapes: Sequence[Shape],
    ):
        self.towed = towed
        self.axles = axles
        self.shapes = shapes
        self.place = {axle[0]: place for place, axle in enumerate(axles)}
        self.unknowns: dict[tuple[str, int], int] = {}
        self.rows: list[Row] = []
        self.assumed: list[tuple[int, int]] = []
        self.starts = self._starts()
        self._toed = self._axles_with_toe()
        for reading, shape in enumerate(shapes):
            make: Callable[[int, int, Shape], None] = getattr(self, f"_{shape[0]}")
            make(reading, self.starts[reading], shape)
        self._assume_centred()

    def _starts(self) -> list[int]:
        start = FIRST_AXLE + 3 * len(self.axles)
        starts = []
        for shape in self.shapes:
            starts.append(start)
            start += WIDTH_OF_NUMBERS[str(shape[0])]
        return starts

    def distance(self, place: int) -> int:
        """Where the axle's distance stands among the numbers."""
        return FIRST_AXLE + place

    def width(self, place: int) -> int:
        """Where the axle's width over the tyres stands among the numbers."""
        return FIRST_AXLE + len(self.axles) + place

    def diameter(self, place: int) -> int:
        """Where the axle's tyre diameter stands among the numbers."""
        return FIRST_AXLE + 2 * len(self.axles) + place

    def unknown(self, name: str, place: int) -> int:
        """Number of an unknown, made on first use."""
        return self.unknowns.setdefault((name, place), len(self.unknowns))

    def beam(self, place: int) -> int:
        """How the axle beam stands: of its own where it steers, else as the wheels aim."""
        return self.unknown("beam" if self.axles[place][2] else "slope", place)

    def nominal_numbers(self) -> list[float]:
        """Numbers of an ordinary vehicle, at which the rank of the equations is judged.

        Distances are irregular so that no chance symmetry hides or makes a dependence.
        """
        count = len(self.axles)
        numbers = [1.0, 1.0, 0.0]
        numbers += [
            (3.1 if self.towed else 0.0) + 1.37 * place * (1 + 0.11 * place)
            for place in range(count)
        ]
        numbers += [2.4] * count + [1.0] * count
        own = {
            "sightline": (1.0, 1.0, 1.0, 0.0),
            "toe_scale": (0.0, 1.0, 1.0),
            "wheel_angle": (0.0, 1.0),
            "caster_sweep": (0.35, 0.0, 0.0, 1.0),
            "wedge": (0.0, 0.0, 1.0),
            "frame_gap": (1.0, 1.0, 1.0),
        }
        for shape in self.shapes:
            numbers += own.get(str(shape[0]), (1.0, 1.0, 0.9, 1.0))
        return numbers

    def _axles_with_toe(self) -> set[int]:
        """Axles whose toe is an unknown: some reading other than a lone sightline speaks of it."""
        places = set()
        for shape in self.shapes:
            place = self.place[int(shape[1])]
            of_toe = shape[0] in ("toe_width", "toe_scale") or shape[-1] == "toe"
            sighted = shape[0] == "sightline" and self._spread_is_told(place, int(shape[2]))
            if of_toe or sighted:
                places.add(place)
        return places

    def _spread_is_told(self, place: int, reference: int) -> bool:
        """Whether the sum of a sightline's two readings holds no unknown standoff."""
        return self.axles[place][3] and (reference == 0 or self.axles[self.place[reference]][3])

    def _sightline(self, reading: int, at: int, shape: Shape) -> None:
        place, reference = self.place[int(shape[1])], int(shape[2])
        origin = None if reference == 0 else self.distance(self.place[reference])
        slope, offset = self.unknown("slope", place), self.unknown("offset", place)
        of_reference = () if reference == 0 else (self.unknown("offset", self.place[reference]),)
        if place not in self._toed:
            unknowns = (slope, offset, *of_reference)
            self.rows.append(SightlineRow(reading, at, unknowns, self.distance(place), origin))
            return
        toe = self.unknown("toe", place)
        unknowns = (slope, offset, toe, *of_reference)
        self.rows.append(
            ToedSightlineRow(reading, at, unknowns, self.distance(place), origin, self.width(place))
        )
        if self._spread_is_told(place, reference):
            inner = None if reference == 0 else self.width(self.place[reference])
            self.rows.append(
                SightlineSpreadRow(
                    reading,
                    at,
                    (slope, toe),
                    self.distance(place),
                    origin,
                    self.width(place),
                    inner,
                    WIDTH,
                )
            )

    def _frame_gap(self, reading: int, at: int, shape: Shape) -> None:
        offset = self.unknown("offset", self.place[int(shape[1])])
        self.rows.append(FrameGapRow(reading, at, (offset,), linear=True))

    def _setback_span(self, reading: int, at: int, shape: Shape) -> None:
        beam = self.beam(self.place[int(shape[1])])
        self.rows.append(SetbackSpanRow(reading, at, (beam,), linear=True))

    def _axle_span(self, reading: int, at: int, shape: Shape) -> None:
        front, rear = self.place[int(shape[1])], self.place[int(shape[2])]
        unknowns = (
            self.beam(front),
            self.unknown("offset", front),
            self.beam(rear),
            self.unknown("offset", rear),
        )
        self.rows.append(
            AxleSpanRow(reading, at, unknowns, self.distance(front), self.distance(rear))
        )

    def _kingpin_span(self, reading: int, at: int, shape: Shape) -> None:
        place = self.place[int(shape[1])]
        unknowns = (self.beam(place), self.unknown("offset", place))
        self.rows.append(KingpinSpanRow(reading, at, unknowns, self.distance(place)))

    def _toe_width(self, reading: int, at: int, shape: Shape) -> None:
        toe = self.unknown("toe", self.place[int(shape[1])])
        self.rows.append(ToeWidthRow(reading, at, (toe,), linear=True))

    def _toe_scale(self, reading: int, at: int, shape: Shape) -> None:
        toe = self.unknown("toe", self.place[int(shape[1])])
        self.rows.append(ToeScaleRow(reading, at, (toe,), linear=True))

    def _wheel_angle(self, reading: int, at: int, shape: Shape) -> None:
        place, side, angle = self.place[int(shape[1])], str(shape[2]), str(shape[3])
        if angle == "toe":
            unknowns = (self.unknown("toe", place), self.unknown("slope", place))
            self.rows.append(WheelToeRow(reading, at, unknowns, SIGN[side]))
        else:
            direct = self.unknown(f"{angle}_{side}", place)
            self.rows.append(DirectRow(reading, at, (direct,), at + 1))

    def _caster_sweep(self, reading: int, at: int, shape: Shape) -> None:
        side = str(shape[2])
        caster = self.unknown(f"caster_{side}", self.place[int(shape[1])])
        self.rows.append(CasterSweepRow(reading, at, (caster,), SIGN[side]))

    def _wedge(self, reading: int, at: int, shape: Shape) -> None:
        place = self.place[int(shape[1])]
        for step, side in enumerate(("left", "right")):
            taper = self.unknown(f"wedge_{side}", place)
            self.rows.append(DirectRow(reading, at + step, (taper,), at + 2))

    def _assume_centred(self) -> None:
        """Add the assumption for every offset that enters an equation and was not taped."""
        taped = {self.place[int(shape[1])] for shape in self.shapes if shape[0] == "frame_gap"}
        for (name, place), unknown in list(self.unknowns.items()):
            if name == "offset" and place not in taped:
                self.rows.append(CentredRow(None, CENTRING, (unknown,), linear=True))
                self.assumed.append((place, unknown))
