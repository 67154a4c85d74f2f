"""Invoice lines of work: each operation priced by its entry on the rate card."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from service.locale.catalogue import ENGLISH, Catalogue, catalogue
from service.pricing.errors import PricingError
from service.pricing.money import EXACT, Money, rounded, zero
from service.pricing.operations import OPERATIONS, place
from service.pricing.rate_card import Entry, Flat, PerAxle, RateCard, Stepped
from service.pricing.texts import listed
from service.pricing.work import ONE, Evidence, Unbilled, Work


class Waiver(NamedTuple):
    """Work that is done at no charge: `warranty`, `comeback` or `goodwill`.

    It holds for one axle, or for every one where `axle` is None.
    """

    operation: str
    reason: str
    axle: int | None = None


class Position(NamedTuple):
    """An axle by its number, counted from 1, and the side that was worked on where it was one."""

    axle: int
    side: str | None

    @property
    def axle_location(self) -> int:
        """The byte of SAE J1939 axle location (SPN 928): the axle counted from the front in the
        high four bits, the place counted from the left in the low four.

        Both count from 0: the coding is from SAE J2735, the origin is practice, from memory. A
        whole axle has place 0, and so has its left end; `side` tells them apart.
        """
        return (self.axle - 1) << 4 | (self.side == "right")


class Line(NamedTuple):
    """One line of a bill.

    `kind` is `work`, `minimum`, `supplies` or `discount`. `amount` is quantity times unit price,
    rounded, or nothing where `free` gives a reason (`included`, `warranty`, ...), `free_text` in
    words.
    """

    kind: str
    operation: str | None
    code: str
    text: str
    positions: tuple[Position, ...]
    quantity: Decimal
    unit: str
    unit_price: Money
    amount: Money
    evidence: tuple[Evidence, ...]
    steps: tuple[int, ...]
    free: str | None
    tax_category: str
    free_text: str | None = None


class _Terms(NamedTuple):
    """What every line of a bill is made with."""

    card: RateCard
    texts: Catalogue


class _Piece(NamedTuple):
    """Works that share a price, and why they are free if they are."""

    entry: Entry
    works: tuple[Work, ...]
    free: str | None


def work_lines(
    card: RateCard,
    works: Sequence[Work],
    waivers: Iterable[Waiver] = (),
    language: str = ENGLISH,
) -> tuple[list[Line], list[Unbilled]]:
    """The lines of works that name each operation and axle once, and those without a price.

    A flat or stepped price is one for all axles of its operation; a price by axle or by time makes
    a line for each.
    """
    waivers = tuple(waivers)
    _check_waivers(waivers)
    pieces, unpriced = _pieces(card, works, waivers)
    terms = _Terms(card, catalogue(language))
    groups = [(piece.entry, _lines_of(terms, piece)) for piece in pieces]
    groups.sort(key=lambda group: place(group[0].operation))
    return _with_included(terms, groups), unpriced


def unbilled_text(entry: Unbilled, language: str = ENGLISH) -> str:
    """What is not billed and why, in words."""
    texts = catalogue(language)
    why = texts.say(f"unbilled.{entry.reason}")
    if entry.operation is None:
        return why
    what = _placed("", entry.operation, _positions(entry.axles, None), texts)
    return texts.say("unbilled.what", what=what, why=why)


def _check_waivers(waivers: tuple[Waiver, ...]) -> None:
    for number, waiver in enumerate(waivers):
        operation = OPERATIONS.get(waiver.operation)
        if operation is None:
            raise PricingError(
                f"{waiver.operation!r} is no operation",
                f"Write one of {', '.join(OPERATIONS)}.",
                ("waivers", number, "operation"),
            )
        if waiver.axle is not None and operation.scope == "vehicle":
            raise PricingError(
                f"{waiver.operation} is done to the whole vehicle",
                "Leave the axle out.",
                ("waivers", number, "axle"),
            )


def _pieces(
    card: RateCard, works: Sequence[Work], waivers: tuple[Waiver, ...]
) -> tuple[list[_Piece], list[Unbilled]]:
    pieces: list[_Piece] = []
    unpriced: list[Unbilled] = []
    shared: dict[tuple[str, str | None], int] = {}
    for work in works:
        entry = card.entries.get(work.operation)
        if entry is None:
            findings = tuple(item.finding for item in work.evidence)
            unpriced.append(Unbilled("no_rate", work.operation, work.axles, findings, work.steps))
            continue
        free = _waived(work, waivers) if waivers else None
        if isinstance(entry.rate, (Flat, Stepped)):
            # What is charged shares one price, and what is free for one reason another.
            first = shared.setdefault((work.operation, free), len(pieces))
            if first < len(pieces):
                pieces[first] = _Piece(entry, (*pieces[first].works, work), free)
                continue
        pieces.append(_Piece(entry, (work,), free))
    return pieces, unpriced


def _waived(work: Work, waivers: tuple[Waiver, ...]) -> str | None:
    for waiver in waivers:
        if waiver.operation == work.operation and (
            waiver.axle is None or work.axles == (waiver.axle,)
        ):
            return waiver.reason
    return None


def _with_included(terms: _Terms, groups: list[tuple[Entry, list[Line]]]) -> list[Line]:
    """All lines, those free that are included with an operation that this bill charges."""
    complete: list[Line] = []
    charged: set[str] = set()
    included = False
    for entry, lines in groups:
        complete += lines
        included = included or bool(entry.included_with)
        for line in lines:
            if line.amount.amount:
                charged.add(entry.operation)
                break
    if not included:
        return complete
    nothing, why = zero(terms.card.currency), terms.texts.say("free.included")
    complete = []
    for entry, lines in groups:
        if entry.included_with and not charged.isdisjoint(entry.included_with):
            complete += [
                line if line.free else line._replace(amount=nothing, free="included", free_text=why)
                for line in lines
            ]
        else:
            complete += lines
    return complete


def _lines_of(terms: _Terms, piece: _Piece) -> list[Line]:
    rate, works = piece.entry.rate, piece.works
    if isinstance(rate, Stepped):
        return _stepped_lines(terms, piece, rate)
    if isinstance(rate, Flat):
        return [_line(terms, piece, works, ONE, "job", rate.price)]
    if isinstance(rate, PerAxle):
        return [_line(terms, piece, works, _count(works), "axle", rate.price)]
    price = rate.labour_rate or terms.card.labour_rate
    assert price is not None, "a checked card has a labour rate"
    hours = EXACT.multiply(rate.hours, works[0].quantity)
    return [_line(terms, piece, works, hours, "hour", price)]


def _stepped_lines(terms: _Terms, piece: _Piece, rate: Stepped) -> list[Line]:
    """The base with the first axles, and the steps beyond it with the rest."""
    further = EXACT.subtract(_count(piece.works), rate.included)
    if further <= 0:
        return [_line(terms, piece, piece.works, ONE, "job", rate.base)]
    steps = EXACT.divide_int(further, rate.step)
    if EXACT.remainder(further, rate.step):
        steps = EXACT.add(steps, ONE)
    near, far = _parted(piece.works, int(rate.included))
    line = _line(terms, piece, far, steps, "step", rate.step_price)
    return [
        _line(terms, piece, near, ONE, "job", rate.base),
        line._replace(text=terms.texts.say("line.further", line=line.text)),
    ]


def _parted(works: tuple[Work, ...], covered: int) -> tuple[tuple[Work, ...], tuple[Work, ...]]:
    """The first axles with what they rest on, and the others."""
    first = works[0]
    bare = Work(first.operation, text=first.text)
    if len(works) == 1:
        # All evidence of the vehicle as a whole, or of one axle, stands with the base.
        near = first._replace(axles=first.axles[:covered])
        return (near,), (bare._replace(axles=first.axles[covered:]),)
    return works[:covered] or (bare,), works[covered:]


def _count(works: tuple[Work, ...]) -> Decimal:
    """How many units a price by the unit has: the axles, or the quantity where there are none."""
    axles = sum(len(work.axles) for work in works)
    return Decimal(axles) if axles else works[0].quantity


def _line(
    terms: _Terms,
    piece: _Piece,
    works: tuple[Work, ...],
    quantity: Decimal,
    unit: str,
    price: Money,
) -> Line:
    card, texts = terms
    why = None
    if piece.free is not None:
        amount, why = zero(card.currency), texts.say(f"free.{piece.free}")
    elif quantity is ONE:
        amount = price
    else:
        amount = rounded(EXACT.multiply(quantity, price.amount), card.currency, card.rounding)
    work, marks = works[0], piece.entry.marks
    evidence, steps, positions = work.evidence, work.steps, _positions(work.axles, work.side)
    if len(works) > 1:
        evidence = tuple(dict.fromkeys(item for one in works for item in one.evidence))
        steps = tuple(dict.fromkeys(step for one in works for step in one.steps))
        positions = tuple(Position(axle, one.side) for one in works for axle in one.axles)
    what = work.text or marks.text or ""
    return Line(
        "work",
        work.operation,
        marks.code,
        _placed(what, work.operation, positions, texts),
        positions,
        quantity,
        unit,
        price,
        amount,
        evidence,
        steps,
        piece.free,
        marks.tax_category,
        why,
    )


@lru_cache(maxsize=1024)
def _positions(axles: tuple[int, ...], side: str | None) -> tuple[Position, ...]:
    return tuple(Position(axle, side) for axle in axles)


@lru_cache(maxsize=1024)
def _placed(what: str, operation: str, positions: tuple[Position, ...], texts: Catalogue) -> str:
    """A text, else what the operation is called, with the axles that it is about.

    One about the whole vehicle names none.
    """
    what = what or texts.say(f"operation.{operation}")
    if not positions or OPERATIONS[operation].scope == "vehicle":
        return what
    if len(positions) > 1:
        axles = listed(tuple(one.axle for one in positions), texts)
        return texts.say("line.axles", what=what, axles=axles)
    axle, side = positions[0]
    form = f"line.axle_{side}" if side in ("left", "right") else "line.axle"
    return texts.say(form, what=what, axles=axle)
