"""What is drawn and written down: a vehicle and what was told of it, in SI units."""

from collections.abc import Mapping
from typing import NamedTuple

from service.geometry.vehicle import Vehicle


class Measure(NamedTuple):
    """A quantity in metres or radians with its expanded uncertainty (k=2).

    `assumed` says that an assumption has a part in it.
    """

    value: float
    uncertainty: float = 0.0
    assumed: bool = False


class Judgement(NamedTuple):
    """A quantity of an axle against its limits; `reference` is the front axle of a pair."""

    id: str
    quantity: str
    axle: int
    reference: int | None
    measure: Measure
    nominal: float
    lower: float | None
    upper: float | None
    verdict: str
    probability: float
    source: str


class Round(NamedTuple):
    """One state of a vehicle: measures by axle number and by (front, rear) pair, by quantity."""

    vehicle: Vehicle
    axles: Mapping[int, Mapping[str, Measure]] = {}
    pairs: Mapping[tuple[int, int], Mapping[str, Measure]] = {}
    findings: tuple[Judgement, ...] = ()


class Taken(NamedTuple):
    """One reading as it was taken, its texts letter by letter.

    `marks` are pairs of a mark's name (`left`, `front`, `toe` ...) and its text, in the order
    they are read; `reference` is the other axle of a span or of a sightline's scale, 0 for the
    kingpin or drawbar eye.
    """

    kind: str
    axle: int
    marks: tuple[tuple[str, str], ...]
    reference: int | None = None
    side: str | None = None
    suspect: bool = False


class Mark(NamedTuple):
    """What one scale must show after a step, in metres or radians; an open limit is None."""

    name: str
    value: float
    lower: float | None
    upper: float | None
    length: bool


class Expected(NamedTuple):
    """The marks of one reading after a step."""

    kind: str
    axle: int
    marks: tuple[Mark, ...]
    reference: int | None = None
    side: str | None = None


class Step(NamedTuple):
    """One step of a plan.

    `action` and `direction` are words of the contract; `subject` is the condition to inspect or
    the kind of reading to take; `amount` is metres or radians (`length` tells), right from `least`
    to `most`, and `turns` those of its thread. `side` is the end that goes forward where both ends
    move. Amounts of a turn are measured `at` points that lie `spread` metres apart.
    """

    action: str
    axle: int | None = None
    subject: str | None = None
    reference: int | None = None
    side: str | None = None
    ends: str | None = None
    direction: str | None = None
    amount: float | None = None
    length: bool = True
    turns: float | None = None
    at: str = "axle_ends"
    spread: float | None = None
    least: float | None = None
    most: float | None = None
    expected: tuple[Expected, ...] = ()


class Caution(NamedTuple):
    """Something to know before acting: a code of the contract and the axle it speaks of."""

    code: str
    axle: int | None = None


class Remainder(NamedTuple):
    """A finding that no allowed move brings to conform; `beyond` its limit, metres or radians."""

    quantity: str
    axle: int
    reference: int | None
    beyond: float


class Assumption(NamedTuple):
    """An axle taken as centred, with the standard uncertainty of that in metres."""

    axle: int
    uncertainty: float


class Session(NamedTuple):
    """One round with everything that a worksheet says of it.

    `unit` is that of lengths in the texts of `readings` that name none; `fraction` is the
    denominator that lengths in inches round to.
    """

    round: Round
    unit: str = "in"
    readings: tuple[Taken, ...] = ()
    conditions: Mapping[str, bool | None] = {}
    steps: tuple[Step, ...] = ()
    remaining: tuple[Remainder, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[Caution, ...] = ()
    target_set: str | None = None
    engine: str = ""
    fraction: int = 32
