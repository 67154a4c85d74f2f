"""`/v1/visits/{id}/rounds`: readings solved and kept, never changed."""

from functools import partial
from typing import Annotated, Any
from uuid import UUID

import msgspec
from litestar import get, post, put
from litestar.params import Body, QueryParameter

from service.api.access import needs
from service.api.own_target_sets import Judged, judged
from service.api.recomputation import changes
from service.api.round_conditions import is_stored_as, with_conditions
from service.api.solutions import solution_json, solution_of
from service.api.storing import (
    Answer,
    AnyRequest,
    IdempotencyKey,
    ThingId,
    once,
    read,
    reply,
    write,
)
from service.api.visit_rounds import request_in
from service.contract.answer import ENGINE
from service.contract.problem_catalogue import CONFLICT
from service.contract.problems import ProblemError
from service.contract.replies import Reply, encoded
from service.contract.rounds import Recomputation, RoundList, RoundRequest, StoredRound
from service.contract.solution import Solution
from service.store import rounds
from service.store.rounds import RoundRecord
from service.store.scope import ShopScope

_SOLUTION = msgspec.json.Decoder(Solution)
_RECOMPUTE = QueryParameter(description="Whether to solve the readings again by today's engine.")


class _Envelope(msgspec.Struct):
    """The readings of a round request letter by letter."""

    request: msgspec.Raw


class _Shown(msgspec.Struct):
    """`StoredRound` with what is stored put in as it is, unread."""

    id: UUID
    visit_id: UUID
    label: str
    taken_at: Any
    engine: str
    target_set: str | None
    target_set_version: int | None
    created_at: Any
    request: msgspec.Raw
    solution: msgspec.Raw
    recomputation: Recomputation | None


_ENVELOPE = msgspec.json.Decoder(_Envelope)
_encode = msgspec.json.Encoder().encode


@post(
    "/v1/visits/{id:uuid}/rounds",
    summary="Solve and keep a round",
    **needs(
        "write",
        CONFLICT,
        headers=("Location", "Idempotent-Replayed"),
        requires=("Idempotency-Key",),
    ),
)
async def create_round(
    request: AnyRequest,
    id: ThingId,
    data: Annotated[RoundRequest, Body()],
    idempotency_key: IdempotencyKey = None,
) -> Reply[StoredRound]:
    """Solve readings and keep both with the open visit, under a new id; a round never changes."""
    sent = _sent(await request.body())

    def work(scope: ShopScope) -> Answer:
        record = rounds.add(scope, solved(scope, id, data, sent))
        at = f"/v1/visits/{id}/rounds/{record.id}"
        return Answer(201, shown(record), {"Location": at})

    return await once(request, idempotency_key, work, _shown_again)


@put(
    "/v1/visits/{id:uuid}/rounds/{round_id:uuid}",
    summary="Solve and keep a round under a client's id",
    **needs("write", CONFLICT, also=(201,)),
)
async def put_round(
    request: AnyRequest, id: ThingId, round_id: ThingId, data: Annotated[RoundRequest, Body()]
) -> Reply[StoredRound]:
    """Keep a round that an app took offline; repeating it changes nothing.

    Another content under the same id is a 409, for a round never changes.
    """
    sent = _sent(await request.body())
    record, new = await write(request, lambda scope: put_content(scope, id, round_id, data, sent))
    return reply(Answer(201 if new else 200, shown(record), {}))


@get("/v1/visits/{id:uuid}/rounds", summary="List a visit's rounds", **needs("read"))
async def list_rounds(request: AnyRequest, id: ThingId) -> Reply[RoundList]:
    """The rounds of a visit in the order they were taken, up to 200."""
    found = await read(request, lambda scope: rounds.of_visit(scope, id))
    return Reply(b'{"items":[' + b",".join(shown(record) for record in found) + b"]}")


@get("/v1/visits/{id:uuid}/rounds/{round_id:uuid}", summary="Read a round", **needs("read"))
async def get_round(
    request: AnyRequest,
    id: ThingId,
    round_id: ThingId,
    recompute: Annotated[bool, _RECOMPUTE] = False,
) -> Reply[StoredRound]:
    """The round as it was kept; with `recompute`, also by today's engine and what changed."""

    def work(scope: ShopScope) -> bytes:
        record = rounds.get(scope, id, round_id)
        return shown(record, _recomputed(scope, record) if recompute else None)

    return Reply(await read(request, work))


def put_content(
    scope: ShopScope, visit_id: UUID, id: UUID, data: RoundRequest, sent: bytes
) -> tuple[RoundRecord, bool]:
    """The round under a client's id, and whether it is new."""
    is_sent = partial(is_stored_as, data, sent)
    known = rounds.repeated(scope, id, visit_id, data.label, data.taken_at, is_sent)
    if known is not None:
        return known, False
    return rounds.add(scope, solved(scope, visit_id, data, sent), id), True


def solved(scope: ShopScope, visit_id: UUID, data: RoundRequest, sent: bytes) -> dict[str, Any]:
    """The columns of a round; a fault of the readings is a problem with its place in the body."""
    request, text = with_conditions(scope, visit_id, data, sent)
    taken = judged(scope, request)
    try:
        solution = _solution(taken)
    except ProblemError as error:
        raise error.within("request") from error
    return {
        "visit_id": visit_id,
        "label": data.label,
        "taken_at": data.taken_at or scope.now,
        "request": text,
        "solution": solution,
        "target_set": taken.name,
        "target_set_version": taken.version,
        "engine": ENGINE,
    }


def _solution(taken: Judged) -> bytes:
    """The JSON of a solution, under the name of the target set that judged it."""
    if taken.request.targets is None:
        return solution_json(taken.request)  # a set that everybody has, named already
    solution = solution_of(taken.request)
    solution.target_set = taken.name
    return encoded(solution)


def _recomputed(scope: ShopScope, record: RoundRecord) -> Recomputation:
    taken = judged(scope, request_in(record), record.target_set_version)
    today = solution_of(taken.request)
    today.target_set = taken.name
    return Recomputation(solution=today, changes=changes(_SOLUTION.decode(record.solution), today))


def _shown_again(scope: ShopScope, location: str) -> bytes:
    """The answer that made a round, written anew: a round never changes and never goes."""
    return shown(rounds.made(scope, UUID(location.rpartition("/")[2])))


def _sent(body: bytes) -> bytes:
    return bytes(_ENVELOPE.decode(body).request)


def shown(record: RoundRecord, recomputation: Recomputation | None = None) -> bytes:
    """A round as it is answered; what is stored goes out unread."""
    return _encode(
        _Shown(
            id=record.id,
            visit_id=record.visit_id,
            label=record.label,
            taken_at=record.taken_at,
            engine=record.engine,
            target_set=record.target_set,
            target_set_version=record.target_set_version,
            created_at=record.created_at,
            request=msgspec.Raw(record.request),
            solution=msgspec.Raw(record.solution),
            recomputation=recomputation,
        )
    )
