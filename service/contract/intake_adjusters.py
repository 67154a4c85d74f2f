"""Reads how the axles of a request can be moved."""

import re
from collections.abc import Callable

from service.contract import vehicle as wire
from service.contract.intake_errors import FaultError, unreadable
from service.contract.intake_vehicle import SHORTEST
from service.contract.problem_catalogue import ADJUSTER_IMPOSSIBLE
from service.contract.problems import FieldError
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length
from service.geometry.planning.adjusters import (
    LATERAL,
    LONGITUDINAL,
    WEDGE,
    WEDGE_STEP,
    Adjuster,
    spread_of,
    usual_adjusters,
)
from service.geometry.quantity import QuantityError, quoted
from service.geometry.vehicle import Axle

END = {
    wire.AdjusterEnds.BOTH_ENDS: None,
    wire.AdjusterEnds.LEFT_END: "left",
    wire.AdjusterEnds.RIGHT_END: "right",
}
FINEST_PITCH = 0.0001
"""A thread finer than a tenth of a millimetre is a slip of the pen, in metres."""

FINEST_STEP = 1e-6
"""A step of a micrometre, of a millionth of a turn: there is no such thing."""

TURNS = re.compile(r"\s*\bturns?\s*\Z", re.IGNORECASE)
"""What follows the number of turns of a thread."""


class Adjusters:
    """How the axles of one request can be moved; asked only when something has to move.

    `spreads` tells between which points each axle was spanned, metres.
    """

    __slots__ = ("axles", "given", "spreads", "unit", "wires")

    def __init__(
        self,
        wires: list[wire.Axle],
        axles: tuple[Axle, ...],
        spreads: Callable[[], dict[int, float]],
        unit: str,
    ) -> None:
        self.wires = wires
        self.axles = axles
        self.spreads = spreads
        self.unit = unit
        self.given: dict[int, tuple[Adjuster, ...]] = {}

    def read_given(self, errors: list[FieldError]) -> None:
        """Read what axles say of themselves, adding to `errors` whatever is wrong with it."""
        for place, axle in enumerate(self.wires):
            if axle.adjusters is not None:
                spread = self.spreads().get(axle.number)
                self.given[axle.number] = _given(axle.adjusters, place, self.unit, spread, errors)

    def __call__(self) -> dict[int, tuple[Adjuster, ...]]:
        """Adjusters by axle number: as described, else, once asked for, the usual ones."""
        return _OrUsual(self)


class _OrUsual(dict[int, tuple[Adjuster, ...]]):
    """The adjusters that are described; the usual ones of any other axle are found when needed."""

    def __init__(self, adjusters: Adjusters) -> None:
        super().__init__(adjusters.given)
        self._axles = adjusters.axles
        self._spreads = adjusters.spreads()

    def __missing__(self, number: int) -> tuple[Adjuster, ...]:
        for axle in self._axles:
            if axle.number == number:
                found = usual_adjusters(axle.steered, self._spreads.get(number))
                self[number] = found
                return found
        raise KeyError(number)


def check_adjusters(wires: list[wire.Axle], unit: str, errors: list[FieldError]) -> None:
    """Add to `errors` what is wrong with the adjusters of a vehicle that nothing was read of."""
    Adjusters(wires, (), dict, unit).read_given(errors)


def _given(
    wires: list[wire.Adjuster],
    place: int,
    unit: str,
    spread: float | None,
    errors: list[FieldError],
) -> tuple[Adjuster, ...]:
    found = []
    for number, adjuster in enumerate(wires):
        texts = _Texts(adjuster, unit, ("vehicle", "axles", place, "adjusters", number), errors)
        _check_tie_rod(adjuster, texts)
        found.append(_adjuster(adjuster, texts, spread))
    return tuple(found)


def _adjuster(given: wire.Adjuster, texts: "_Texts", spread: float | None) -> Adjuster:
    kind = given.kind.value
    over = spread_of(texts.length("spread", SHORTEST), spread)
    threads = 2 if given.threads is wire.TieRodThreads.BOTH_HANDS else 1
    pitch = texts.length("thread_pitch", FINEST_PITCH)
    texts.per_turn = None if pitch is None else pitch * threads
    return Adjuster(
        kind,
        END[given.ends] if kind in (LONGITUDINAL, WEDGE) else None,
        over.size,
        texts.step("increment", FINEST_STEP) or (WEDGE_STEP if kind == WEDGE else None),
        texts.step("travel", 0.0),
        pitch,
        texts.length("arm_length", SHORTEST),
        threads,
        over.at,
    )


def _check_tie_rod(given: wire.Adjuster, texts: "_Texts") -> None:
    """Turns and parts of a turn mean something only with both lengths that tell their toe."""
    if given.kind is not wire.AdjusterKind.TIE_ROD:
        return
    pitch, arm = given.thread_pitch, given.arm_length
    if (pitch is None) != (arm is None):
        texts.refuse(
            "thread_pitch" if pitch is None else "arm_length",
            "turns of a tie rod follow from its thread pitch and its arm length together",
            "Give both, or neither.",
        )
    for field in ("increment", "travel"):
        if getattr(given, field) is not None and pitch is None and arm is None:
            texts.refuse(
                field,
                f"{field} counts turns, which mean nothing without thread pitch and arm length",
                f"Give `thread_pitch` and `arm_length`, or leave `{field}` out.",
            )


class _Texts:
    """Reads the texts of one adjuster, noting all that is wrong with them."""

    def __init__(
        self,
        given: wire.Adjuster,
        unit: str,
        steps: tuple[str | int, ...],
        errors: list[FieldError],
    ) -> None:
        self.given = given
        self.unit = unit
        self.steps = steps
        self.errors = errors
        self.per_turn: float | None = None
        """Length that a turn of its thread makes, metres; known once the pitch is read."""

    def refuse(self, field: str, detail: str, hint: str) -> None:
        """Note that a field cannot be as it is."""
        self.errors.append(FaultError(ADJUSTER_IMPOSSIBLE, field, detail, hint).at(*self.steps))

    def length(self, field: str, least: float) -> float | None:
        """A length of the adjuster in metres, None where it is not told or not readable."""
        value = self._read(field, lambda text: parse_length(text, self.unit))
        if value is not None and value < least:
            self.refuse(
                field,
                f"{field} is {quoted(getattr(self.given, field))}, too short for an adjuster",
                "Write the length as it is on the vehicle, such as 33 1/2 in or 1.5 mm.",
            )
        return value

    def step(self, field: str, least: float) -> float | None:
        """A step or a travel: metres, of a wedge radians, of a tie rod turns."""
        if self._is_pitch_wanting(field):
            return None
        value = self._read(field, self._amount)
        if value is not None and value < least:
            self.refuse(
                field,
                f"{field} is {quoted(getattr(self.given, field))}: negative or nothing",
                "Write it without a sign, such as 1/16 in, 0.5 (degrees of a wedge) or 1/4 turn.",
            )
        return value

    def _is_pitch_wanting(self, field: str) -> bool:
        text: str | None = getattr(self.given, field)
        moves_by_length = self.given.kind.value in (LATERAL, LONGITUDINAL)
        if text is None or not moves_by_length or self.given.thread_pitch is not None:
            return False
        if TURNS.search(text) is None:
            return False
        self.refuse(
            field,
            f"{field} counts turns, which make a length only by the pitch of a thread",
            f"Give `thread_pitch`, or write `{field}` as a length, such as 1/16 in or 2 mm.",
        )
        return True

    def _read(self, field: str, parse: Callable[[str], float]) -> float | None:
        text: str | None = getattr(self.given, field)
        if text is None:
            return None
        try:
            return parse(text)
        except QuantityError as error:
            self.errors.append(unreadable(error, *self.steps, field))
            return None

    def _amount(self, text: str) -> float:
        if self.given.kind is wire.AdjusterKind.WEDGE:
            return parse_angle(text)
        if self.given.kind is wire.AdjusterKind.TIE_ROD:
            return _turns(text)
        if self.per_turn is not None and TURNS.search(text) is not None:
            return _turns(text) * self.per_turn
        return parse_length(text, self.unit)


def _turns(text: str) -> float:
    """Turns of a thread: a number, whole or a fraction; QuantityError for another text."""
    number = TURNS.sub("", text)
    try:
        turns = parse_length(number, "mm")
        # A text with a unit of its own reads alike whatever unit holds for those without one.
        bare = turns != parse_length(number, "cm") or turns == 0
    except QuantityError:
        bare = False
    if not bare:
        raise QuantityError(
            f"{quoted(text)} is not a number of turns",
            "write turns like “1/4”, “0.5 turn” or “2 1/2 turns”",
        )
    return turns * 1000
