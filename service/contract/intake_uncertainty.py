"""Chooses the standard uncertainty of a reading: its own, its instrument's, or the default."""

from collections.abc import Sequence

from service.contract.intake_errors import FaultError, unreadable
from service.contract.problem_catalogue import CONTRACT_BROKEN, READING_IMPOSSIBLE
from service.contract.problems import FieldError, field_error, pointer_to
from service.contract.readings import Instrument
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length
from service.geometry.quantity import QuantityError
from service.geometry.uncertainty import DEFAULT_BY_KIND, REHANG, from_resolution

ANGLE_KINDS = frozenset({"wheel_angle", "caster_sweep", "wedge"})
USUAL = {kind: (u, REHANG) for kind, u in DEFAULT_BY_KIND.items()}
"""Standard uncertainty of one side, and re-hang angle, where no instrument is told."""

FINEST_LENGTH, FINEST_ANGLE = 1e-6, 1e-7
"""A micrometre and a fiftieth of a second of arc: no reading in a yard is surer than that."""


class Instruments:
    """The instruments of a request, by kind and by name."""

    def __init__(self, wires: Sequence[Instrument], unit: str, errors: list[FieldError]) -> None:
        self.unit = unit
        self.by_kind: dict[str, tuple[float, float]] = {}
        self.usual = USUAL
        self.by_name: dict[str, tuple[str, tuple[float, float]]] = {}
        for place, wire in enumerate(wires):
            try:
                known = self._read(wire)
            except (QuantityError, FaultError):
                errors += self._explain(wire, place)
                continue
            kind = wire.kind.value
            taken = kind in self.by_kind if wire.name is None else wire.name in self.by_name
            if taken:
                errors.append(_taken(wire, place))
            elif wire.name is None:
                self.by_kind[kind] = known
            else:
                self.by_name[wire.name] = (kind, known)
        if self.by_kind:
            self.usual = USUAL | self.by_kind

    def of(self, kind: str, uncertainty: str | None, name: str | None) -> tuple[float, float]:
        """Standard uncertainty of one side and re-hang angle for a reading of `kind`."""
        if name is None and uncertainty is None:
            return self.usual[kind]
        if name is not None:
            of_kind, known = self.by_name.get(name, ("", (0.0, 0.0)))
            if of_kind != kind:
                raise _unknown_name(name, kind, of_kind)
        else:
            known = self.usual[kind]
        if uncertainty is None:
            return known
        return self._size(kind, uncertainty, "uncertainty"), known[1]

    def sureness(self, kind: str) -> tuple[float, float]:
        """Standard uncertainty of one side, and re-hang angle, of a reading yet to be taken."""
        return self.usual[kind]

    def _read(self, wire: Instrument) -> tuple[float, float]:
        kind = wire.kind.value
        if wire.uncertainty is not None:
            u = self._size(kind, wire.uncertainty, "uncertainty")
        elif wire.resolution is not None:
            u = from_resolution(self._size(kind, wire.resolution, "resolution"))
        else:
            u = DEFAULT_BY_KIND[kind]
        return u, self._rehang(wire)

    def _rehang(self, wire: Instrument) -> float:
        if wire.rehang is None:
            return REHANG
        rehang = parse_angle(wire.rehang)
        if not 0 <= rehang < 0.1:
            raise FaultError(
                READING_IMPOSSIBLE,
                "rehang",
                f"a re-hang uncertainty of {wire.rehang!r} is negative or above 5 degrees",
                "Write the standard uncertainty of the line's aim in degrees, such as 0.02.",
            )
        return rehang

    def _size(self, kind: str, text: str, field: str) -> float:
        angle = kind in ANGLE_KINDS
        value = parse_angle(text) if angle else parse_length(text, self.unit)
        if value < (FINEST_ANGLE if angle else FINEST_LENGTH):
            raise FaultError(
                READING_IMPOSSIBLE,
                field,
                f"{field} {text!r} is negative, zero, or finer than anything read in a yard",
                "Write a small positive value, such as 1/64 or 0.5 mm (for angles: 0.02).",
            )
        return value

    def _explain(self, wire: Instrument, place: int) -> list[FieldError]:
        errors = []
        for field in ("uncertainty", "resolution", "rehang"):
            text = getattr(wire, field)
            try:
                if text is not None and field == "rehang":
                    self._rehang(wire)
                elif text is not None:
                    self._size(wire.kind.value, text, field)
            except QuantityError as error:
                errors.append(unreadable(error, "instruments", place, field))
            except FaultError as fault:
                errors.append(fault.at("instruments", place))
        return errors


def _taken(wire: Instrument, place: int) -> FieldError:
    what = f"the name {wire.name!r}" if wire.name else f"no name for {wire.kind.value} readings"
    return field_error(
        CONTRACT_BROKEN,
        pointer_to("instruments", place),
        f"two instruments have {what}",
        "Give each a name of its own; at most one instrument of a kind may go without.",
    )


def _unknown_name(name: str, kind: str, of_kind: str) -> FaultError:
    detail = f"instrument {name!r} is not among `instruments`"
    if of_kind:
        detail = f"instrument {name!r} is for {of_kind} readings, not for {kind}"
    return FaultError(
        CONTRACT_BROKEN,
        "instrument",
        detail,
        f"Name an instrument of kind {kind}, or leave it out.",
    )
