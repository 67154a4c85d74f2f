"""Which rounds of a visit are billed and shown, and what is stored of them."""

from uuid import UUID

import msgspec

from service.api.solved_rounds import SolvedRound, one_vehicle
from service.contract.bodies import reader_of
from service.contract.solution import Solution, SolutionRequest
from service.store import rounds
from service.store.errors import Conflict, NotFound
from service.store.rounds import RoundRecord
from service.store.scope import ShopScope

BEFORE, AFTER = "before", "after"

_SOLUTION = msgspec.json.Decoder(Solution)


def before_and_after(
    scope: ShopScope, visit_id: UUID
) -> tuple[RoundRecord | None, RoundRecord | None]:
    """The newest round `before`, and the newest `after` that was taken later than that."""
    taken = rounds.of_visit(scope, visit_id)
    first = _last_place(taken, BEFORE)
    if first is None:
        return None, None
    second = _last_place(taken[first:], AFTER)
    return taken[first], None if second is None else taken[first + second]


def shown_rounds(scope: ShopScope, visit_id: UUID, label: str | None) -> list[RoundRecord]:
    """The newest round with a label; without one the rounds before and after, else the newest.

    NotFound for a label that no round has, Conflict for a visit without rounds.
    """
    taken = rounds.of_visit(scope, visit_id)
    if label is not None:
        place = _last_place(taken, label)
        if place is None:
            raise NotFound("round")
        return [taken[place]]
    if not taken:
        raise Conflict("The visit has no round yet.")
    pair = [one for one in before_and_after(scope, visit_id) if one is not None]
    return pair or taken[-1:]


def solved_again(found: list[RoundRecord]) -> list[SolvedRound]:
    """The rounds as they were solved; Conflict where two do not describe one vehicle."""
    solved = [SolvedRound(request_in(one), _SOLUTION.decode(one.solution)) for one in found]
    if len(solved) == 2 and not one_vehicle(solved[0].request, solved[1].request):
        raise Conflict("The rounds `before` and `after` do not describe one vehicle.")
    return solved


def request_in(record: RoundRecord) -> SolutionRequest:
    """The request of a stored round, which is kept as it was sent: with 3.0 for 3, perhaps."""
    request: SolutionRequest = reader_of(SolutionRequest).decoded(record.request)
    return request


def _last_place(taken: list[RoundRecord], label: str) -> int | None:
    places = [place for place, one in enumerate(taken) if one.label == label]
    return places[-1] if places else None
