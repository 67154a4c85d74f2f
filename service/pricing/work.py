"""Work that was planned or done, in the neutral words that prices are put to.

Nothing here knows a price. `Account` keeps what is not to be billed beside what is, each with
its reason, so that nothing drops out of a bill in silence.
"""

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from service.pricing.errors import PricingError
from service.pricing.operations import OPERATIONS, place

ONE = Decimal(1)
OTHER_WORK = tuple(name for name, entry in OPERATIONS.items() if not entry.corrects)
"""Operations that a shop may list as done, since no finding can show them."""

CONFORMING, NONCONFORMING, UNDETERMINED = "conforming", "nonconforming", "undetermined"


class Finding(NamedTuple):
    """A quantity as a solution judged it; `text` is its value as a person reads it."""

    id: str
    quantity: str
    axle: int
    verdict: str
    text: str = ""
    reference_axle: int | None = None

    @property
    def subject(self) -> tuple[str, int, int | None]:
        """What it speaks of, the same in the round before and the round after."""
        return self.quantity, self.axle, self.reference_axle


class Step(NamedTuple):
    """A step of a correction plan; `because` holds the ids of the findings it is for."""

    step: int
    action: str
    axle: int | None = None
    because: tuple[str, ...] = ()
    side: str | None = None


class Evidence(NamedTuple):
    """A finding that a line rests on, with its values; what was not read is None."""

    finding: str
    quantity: str
    axle: int
    verdict_before: str
    before: str | None
    after: str | None = None


class Work(NamedTuple):
    """One operation, on one axle or on the vehicle as a whole.

    `axles` of an operation on the vehicle are those that it covered. `quantity` multiplies a time
    and counts the units of a call-out; it is 1 for everything that is derived from findings.
    """

    operation: str
    axles: tuple[int, ...] = ()
    side: str | None = None
    quantity: Decimal = ONE
    evidence: tuple[Evidence, ...] = ()
    steps: tuple[int, ...] = ()
    text: str = ""


class Unbilled(NamedTuple):
    """Something a reader of the bill could look for in vain, and the reason why it is not there."""

    reason: str
    operation: str | None
    axles: tuple[int, ...] = ()
    findings: tuple[str, ...] = ()
    steps: tuple[int, ...] = ()


class Account(NamedTuple):
    """What is to be billed and what is not."""

    works: tuple[Work, ...]
    unbilled: tuple[Unbilled, ...] = ()


def merged(works: Iterable[Work]) -> tuple[Work, ...]:
    """The works with one entry for each operation and axle, in the order the trade works.

    Later ones add their evidence and steps to the first; a side is kept where all agree on it.
    """
    kept: dict[tuple[int, tuple[int, ...]], Work] = {}
    for work in works:
        on_axle = OPERATIONS[work.operation].scope == "axle"
        key = (place(work.operation), work.axles if on_axle else ())
        first = kept.get(key)
        kept[key] = work if first is None else _joined(first, work)
    return tuple(kept[key] for key in sorted(kept))


def with_other_work(account: Account, others: Iterable[Work]) -> Account:
    """The account with work that no finding can show: a call-out, a road test, an inspection.

    A correction is refused here, since only findings can prove one. What the account already
    holds is not added again; its quantity and text are then those of the other work.
    """
    known = {work.operation: work for work in account.works}
    seen: set[str] = set()
    for number, work in enumerate(others):
        path = ("other_work", number, "operation")
        if work.operation not in OTHER_WORK:
            raise PricingError(
                f"{work.operation} is billed only where findings show it",
                f"Other work can be {', '.join(OTHER_WORK)}.",
                path,
            )
        if work.operation in seen:
            raise PricingError(
                f"{work.operation} is listed twice",
                "Write it once with the whole quantity.",
                path,
            )
        seen.add(work.operation)
        first = known.get(work.operation)
        known[work.operation] = (
            work
            if first is None
            else first._replace(quantity=work.quantity, text=work.text or first.text)
        )
    shown = [work for work in account.works if work.operation not in seen]
    unbilled = tuple(
        entry
        for entry in account.unbilled
        if not (entry.reason == "not_shown" and entry.operation in seen)
    )
    return Account(merged([*shown, *(known[name] for name in seen)]), unbilled)


def _joined(first: Work, second: Work) -> Work:
    axles = first.axles
    if second.axles != axles:
        axles = tuple(sorted({*axles, *second.axles}))
    return first._replace(
        axles=axles,
        side=first.side if first.side == second.side else None,
        evidence=tuple(dict.fromkeys((*first.evidence, *second.evidence))),
        steps=tuple(dict.fromkeys((*first.steps, *second.steps))),
        text=first.text or second.text,
    )
