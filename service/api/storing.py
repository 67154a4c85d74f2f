"""From a request to a unit of work and back: revisions, repeated requests, the store's refusals."""

from collections.abc import Awaitable, Callable, Iterator, Mapping
from contextlib import contextmanager
from hashlib import sha256
from typing import Annotated, Any, NamedTuple, TypeVar, cast
from uuid import UUID

import msgspec
from litestar import Request
from litestar.params import HeaderParameter, PathParameter, QueryParameter

from service.api.callers import Caller, note_use
from service.api.metrics import count
from service.contract import problem_catalogue as kinds
from service.contract.problems import FieldError, ProblemError
from service.contract.replies import Reply, encoded
from service.store.database import Store
from service.store.errors import (
    BadCursor,
    Conflict,
    KeyInFlight,
    KeyTaken,
    NotFound,
    RevisionNeeded,
    StaleRevision,
    StoreError,
    StoreUnavailable,
)
from service.store.idempotency import KeptAnswer, KeyReused, keep_answer, kept_answer
from service.store.keys import KeyRecord
from service.store.scope import ShopScope

T = TypeVar("T")

AnyRequest = Request[Any, Any, Any]

IdempotencyKey = Annotated[
    str | None,
    HeaderParameter(
        name="Idempotency-Key",
        description="A text of the client's own, new for each thing to be made: a request sent "
        "again with it within 24 hours is answered again and not done again.",
        min_length=1,
        max_length=255,
    ),
]
ThingId = Annotated[
    UUID, PathParameter(description="The thing's id, a UUID made by the service or by a client.")
]
IfMatch = Annotated[
    str | None,
    HeaderParameter(
        name="If-Match",
        description="ETag of the revision that was read and is to be changed.",
        max_length=100,
    ),
]
CursorQuery = Annotated[
    str | None,
    QueryParameter(
        description="`next_cursor` of the page before; good for the same filter only.",
        min_length=1,
        max_length=400,
    ),
]
LimitQuery = Annotated[int, QueryParameter(description="Items on a page at most.", ge=1, le=200)]


class Answer(NamedTuple):
    """What a unit of work answers: ready bytes, for they may be kept and sent again."""

    status: int
    body: bytes
    headers: Mapping[str, str]


async def read(request: AnyRequest, work: Callable[[ShopScope], T]) -> T:
    """Run work that changes nothing in the caller's shop."""
    return await _proved(request, _store(request).read, work)


async def snapshot(request: AnyRequest, work: Callable[[ShopScope], T]) -> T:
    """Run much reading in the caller's shop, all of it at one moment."""
    return await _proved(request, _store(request).snapshot, work)


async def write(request: AnyRequest, work: Callable[[ShopScope], T]) -> T:
    """Run work in the caller's shop and commit it."""
    return await _proved(request, _store(request).write, work)


async def _proved(
    request: AnyRequest,
    run: Callable[[UUID, Callable[[ShopScope], T]], Awaitable[T]],
    work: Callable[[ShopScope], T],
) -> T:
    """Run work after a look at the caller's key, in one transaction."""
    caller: Caller = request.scope["caller"]  # type: ignore[typeddict-item]
    seen: list[KeyRecord] = []

    def within(scope: ShopScope) -> T:
        seen[:] = [caller.prove(scope)]
        return work(scope)

    with told_as_problems():
        result = await run(caller.shop, within)
    note_use(_store(request), caller.shop, seen[0])
    return result


def _store(request: AnyRequest) -> Store:
    store: Store = request.app.state["store"]
    return store


async def once(
    request: AnyRequest,
    key: str | None,
    work: Callable[[ShopScope], Answer],
    again: Callable[[ShopScope, str], bytes] | None = None,
) -> Reply[Any]:
    """Run work that makes something, once for an idempotency key, and answer as the first time.

    The answer is kept to be sent again. Of what never changes, `again` writes the same body anew
    from the answer's Location, and nothing large is kept twice.
    """
    name = _key(key)
    store = _store(request)
    what = f"{request.scope['method']} {request.scope['path']}\n".encode()
    fingerprint = sha256(what + await request.body()).digest()

    def first(scope: ShopScope) -> Answer:
        answer = work(scope)
        kept_headers = msgspec.json.encode(answer.headers)
        body = b"" if again else answer.body
        keep_answer(scope, name, fingerprint, answer.status, kept_headers, body)
        return answer

    def kept(scope: ShopScope) -> Answer | None:
        found = kept_answer(scope, name, fingerprint)
        if found is None:
            return None
        replay = _replayed(found)
        if again is not None and not found.body:
            return replay._replace(body=again(scope, replay.headers["Location"]))
        return replay

    async def run(shop: UUID, within: Callable[[ShopScope], Answer]) -> Answer:
        try:
            return await store.write_once(shop, name, within)
        except (StoreError, ProblemError) as refusal:
            if not _may_be_repeated(refusal):
                raise
            # Nearly every request is the first with its key, so only a refused one looks whether
            # it was answered before: the key is taken, or what it made stands in its own way.
            found = await store.write(shop, kept)
            if found is not None:
                return found
            if isinstance(refusal, KeyTaken):  # by an answer that has just expired
                return await store.write_once(shop, name, within)
            raise

    return reply(await _proved(request, run, first))


def _may_be_repeated(refusal: Exception) -> bool:
    """Whether a refusal can come of a request's own first success."""
    if isinstance(refusal, ProblemError):
        return refusal.kind.status not in (401, 403)
    return not isinstance(refusal, StoreUnavailable | KeyInFlight)


def _replayed(kept: KeptAnswer) -> Answer:
    headers = msgspec.json.decode(kept.headers, type=dict[str, str])
    return Answer(kept.status, kept.body, {**headers, "Idempotent-Replayed": "true"})


def reply(answer: Answer) -> Reply[Any]:
    """The answer as the door sends it."""
    return Reply(answer.body, status_code=answer.status, headers=answer.headers)


def answered(
    content: msgspec.Struct, *, status: int = 200, revision: int | None = None, at: str = ""
) -> Answer:
    """An answer of a struct, with its ETag and, of something new, where it is."""
    headers = {}
    if revision is not None:
        headers["ETag"] = etag(revision)
    if at:
        headers["Location"] = at
    return Answer(status, encoded(content), headers)


def etag(revision: int) -> str:
    """The entity tag of a revision."""
    return f'"{revision}"'


def revision_in(if_match: str | None, *, required: bool = True) -> int | None:
    """The revision that `If-Match` names; 428 if it is needed and missing.

    A tag with `W/` is taken for ours: a proxy that compresses weakens tags on the way.
    """
    if if_match is None:
        if required:
            detail = "The revision that is to be changed is not said."
            hint = "Send If-Match with the ETag of what you read."
            raise ProblemError(
                kinds.PRECONDITION_REQUIRED, detail, [FieldError("If-Match:", detail, hint)]
            )
        return None
    digits = if_match.strip().removeprefix("W/").strip('"')
    if not (digits.isascii() and digits.isdigit() and len(digits) < 19):
        detail = "If-Match does not name a revision of this service."
        hint = 'Send the ETag as it was answered, such as "3".'
        raise ProblemError(
            kinds.PRECONDITION_FAILED, detail, [FieldError("If-Match:", detail, hint)]
        )
    return int(digits)


def needed_revision(if_match: str | None) -> int:
    """The revision that `If-Match` names; 428 if there is none."""
    return cast(int, revision_in(if_match))


def _key(text: str | None) -> str:
    """The idempotency key, bare or as the quoted string of the draft."""
    if text is None:
        detail = "The request makes something and has no Idempotency-Key."
        hint = "Send Idempotency-Key with a new UUID, and the same one when you repeat the request."
        raise ProblemError(
            kinds.IDEMPOTENCY_KEY_REQUIRED, detail, [FieldError("Idempotency-Key:", detail, hint)]
        )
    bare = text[1:-1] if len(text) > 2 and text[0] == text[-1] == '"' else text
    if not (bare.isascii() and bare.isprintable()):
        detail = "The key has characters that a header should not carry."
        hint = "Use letters, digits and hyphens."
        raise ProblemError(kinds.BAD_HEADER, detail, [FieldError("Idempotency-Key:", detail, hint)])
    return bare


@contextmanager
def told_as_problems() -> Iterator[None]:
    """Turn what the store refuses into the problem that the client sees."""
    try:
        yield
    except StoreError as error:
        raise problem_of(error) from error


def problem_of(error: StoreError) -> ProblemError:
    """The problem of a refusal of the store."""
    text = str(error)
    if isinstance(error, NotFound):
        return ProblemError(kinds.NOT_FOUND, text)
    if isinstance(error, StaleRevision):
        hint = "Read it again, apply your change to what you read, and repeat."
        return ProblemError(kinds.PRECONDITION_FAILED, text, [FieldError("If-Match:", text, hint)])
    if isinstance(error, RevisionNeeded):
        hint = "Send If-Match with the ETag of what you read."
        return ProblemError(
            kinds.PRECONDITION_REQUIRED, text, [FieldError("If-Match:", text, hint)]
        )
    if isinstance(error, BadCursor):
        hint = "Leave it out to begin again."
        return ProblemError(kinds.BAD_QUERY, text, [FieldError("?cursor", text, hint)])
    if isinstance(error, KeyInFlight):
        return ProblemError(kinds.IDEMPOTENCY_KEY_IN_FLIGHT, text, headers={"Retry-After": "1"})
    if isinstance(error, KeyReused):
        return ProblemError(kinds.IDEMPOTENCY_KEY_REUSED, text)
    if isinstance(error, Conflict):
        return ProblemError(kinds.CONFLICT, text)
    if isinstance(error, StoreUnavailable):
        count("store_failures")
        detail = "What is stored cannot be reached now."
        return ProblemError(kinds.UNAVAILABLE, detail, headers={"Retry-After": "5"})
    raise AssertionError(f"no problem is told of {type(error).__name__}")
