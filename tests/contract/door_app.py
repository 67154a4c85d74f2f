"""An app of small resources, for tests of what holds for every request whatever its resource."""

from typing import Annotated, Any

from litestar import get, patch, post
from litestar.params import JSONBody, PathParameter, QueryParameter

from service.app import create_app
from service.contract.base import ClosedStruct, OpenStruct
from service.contract.problem_catalogue import CONFLICT, UNAVAILABLE
from service.contract.problems import FieldError, ProblemError
from service.contract.replies import Reply
from service.settings import Settings


class Order(ClosedStruct):
    """What the test app is sent."""

    count: int


class Receipt(OpenStruct):
    """What the test app answers."""

    count: float


@get("/receipts")
async def list_receipts(
    limit: Annotated[int | None, QueryParameter(ge=1, le=9)] = None,
    colour: Annotated[list[str] | None, QueryParameter()] = None,
) -> Receipt:
    """A resource with a query."""
    return Receipt(count=float(limit or len(colour or [])))


@post("/receipts", status_code=200)
async def add_receipt(data: JSONBody[Order]) -> Receipt:
    """A struct in, a struct out."""
    return Receipt(count=data.count)


@post("/ready-made", status_code=200)
async def add_ready_made(data: JSONBody[Order]) -> Reply[Receipt]:
    """A struct in, bytes out."""
    return Reply(b'{"count":%d}' % data.count, headers={"ETag": '"1"'})


@post("/batches", status_code=200, request_max_body_size=2 * 1024 * 1024)
async def add_batch(data: JSONBody[Order]) -> Receipt:
    """A resource with a limit of its own."""
    return Receipt(count=data.count)


@get("/receipts/{number:int}")
async def get_receipt(number: Annotated[int, PathParameter(ge=1, le=99)]) -> Receipt:
    """A resource with a path parameter."""
    return Receipt(count=number)


@patch("/receipts/{number:int}")
async def change_receipt(
    number: Annotated[int, PathParameter(ge=1, le=99)], data: JSONBody[Order]
) -> Receipt:
    """Another method in a handler of its own on the same path."""
    return Receipt(count=number + data.count)


@get("/drawing", media_type="image/svg+xml", opt={"produces": ("image/svg+xml",)})
async def get_drawing() -> Reply[str]:
    """A resource that is no JSON."""
    return Reply("<svg/>", media_type="image/svg+xml")


@get("/failures/{what:str}")
async def fail(what: Annotated[str, PathParameter()]) -> Receipt:
    """Fails in several ways."""
    if what == "finite":
        return Receipt(count=float("nan"))
    if what == "deep":
        raise RecursionError("maximum recursion depth exceeded")
    if what == "conflict":
        raise ProblemError(
            CONFLICT, "It is closed.", [FieldError("#/state", "Closed.", "Open it.")]
        )
    if what == "later":
        raise ProblemError(UNAVAILABLE, "Busy.", headers={"Retry-After": "7"})
    raise ValueError("the secret is swordfish")


ROUTES: list[Any] = [
    list_receipts,
    add_receipt,
    add_ready_made,
    add_batch,
    get_receipt,
    change_receipt,
    get_drawing,
    fail,
]
APP = create_app(Settings(body_limit=2048), ROUTES)
BODY = b'{"count": 3}'
