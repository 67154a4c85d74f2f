"""What holds for every request, whatever its resource; each test builds the app it needs."""

import asyncio
import logging
from pathlib import Path
from typing import Annotated, Any

import msgspec
import pytest
from asking import JSON_HEADERS, Answer, ask, scope_of
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


def test_a_struct_comes_in_and_goes_out() -> None:
    answer = ask(APP, "POST", "/receipts", BODY)
    assert (answer.status, answer.json) == (200, {"count": 3.0})
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["content-length"] == str(len(answer.body))


def test_bytes_that_are_ready_go_out_with_the_headers_of_their_reply() -> None:
    answer = ask(APP, "POST", "/ready-made", BODY)
    assert (answer.status, answer.body, answer.headers["etag"]) == (200, b'{"count":3}', '"1"')


# Request ids


def test_every_answer_carries_a_request_id_of_its_own() -> None:
    ids = [ask(APP, "GET", "/receipts").headers["request-id"] for _ in range(3)]
    ids.append(ask(APP, "GET", "/nothing").headers["request-id"])
    assert len(set(ids)) == 4


def test_a_uuid_sent_as_request_id_comes_back() -> None:
    sent = b"0190F0C0-0000-7000-8000-000000000001"
    answer = ask(APP, "GET", "/nothing", headers=[(b"request-id", sent)])
    assert answer.headers["request-id"] == sent.decode().lower()
    assert answer.json["instance"] == f"urn:uuid:{sent.decode().lower()}"


@pytest.mark.parametrize("sent", [b"", b"abc", b"x" * 500, b"a\r\nSet-Cookie: a=b", b"<script>"])
def test_anything_else_sent_as_request_id_is_replaced(sent: bytes) -> None:
    answer = ask(APP, "GET", "/receipts", headers=[(b"request-id", sent)])
    assert answer.headers["request-id"] != sent.decode()
    assert len(answer.headers["request-id"]) == 36


# Media types of the body

TAKEN = [
    b"application/json",
    b"application/json; charset=utf-8",
    b'application/json;charset="UTF-8"',
    b"Application/JSON",
    b"application/json; version=1",
]


@pytest.mark.parametrize("content_type", TAKEN)
def test_json_in_utf_8_is_taken_however_it_is_spelled(content_type: bytes) -> None:
    answer = ask(APP, "POST", "/receipts", BODY, [(b"content-type", content_type)])
    assert answer.status == 200


REFUSED = {
    "no Content-Type": [],
    "text": [(b"content-type", b"text/plain")],
    "a form": [(b"content-type", b"application/x-www-form-urlencoded")],
    "XML": [(b"content-type", b"application/xml")],
    "an empty type": [(b"content-type", b"")],
    "another charset": [(b"content-type", b"application/json; charset=latin-1")],
    "UTF-16": [(b"content-type", b"application/json; charset=utf-16")],
    "gzip": [*JSON_HEADERS, (b"content-encoding", b"gzip")],
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_body_declared_as_anything_else_is_a_415_that_says_what_is_taken(name: str) -> None:
    answer = ask(APP, "POST", "/receipts", BODY, REFUSED[name])
    assert (answer.status, answer.slug) == (415, "unsupported-media-type")
    assert answer.headers["accept-post"] == "application/json"


def test_an_empty_body_is_a_400_that_asks_for_json() -> None:
    answer = ask(APP, "POST", "/receipts", b"")
    assert (answer.status, answer.slug) == (400, "malformed-json")
    assert answer.json["errors"][0]["hint"] == "Send a JSON object."


def test_a_body_that_breaks_the_contract_is_a_422_with_pointers() -> None:
    answer = ask(APP, "POST", "/receipts", b'{"count": "3", "cuont": 1}')
    assert answer.status == 422
    assert answer.slug == "contract-broken"
    assert answer.pointers == ["#/count", "#/cuont"]


# Size


def padded(size: int) -> bytes:
    return b'{"count": 3' + b" " * (size - 12) + b"}"


@pytest.mark.parametrize(("size", "status"), [(2048, 200), (2049, 413)])
def test_the_limit_holds_to_the_byte(size: int, status: int) -> None:
    assert ask(APP, "POST", "/receipts", padded(size)).status == status


@pytest.mark.parametrize(("size", "status"), [(2048, 200), (2049, 413)])
def test_the_limit_holds_for_a_body_in_many_parts_without_a_length(size: int, status: int) -> None:
    body = padded(size)
    parts = [body[at : at + 100] for at in range(0, size, 100)]
    answer = ask(APP, "POST", "/receipts", parts)
    assert answer.status == status
    assert status == 200 or answer.slug == "body-too-large"


def test_an_announced_length_over_the_limit_is_refused_before_anything_is_read() -> None:
    reads, answer = refused_while_reading([(b"content-length", b"1000000000")])
    assert (reads, answer["status"]) == (0, 413)
    assert (b"connection", b"close") in answer["headers"]


def test_an_endless_body_is_refused_when_it_passes_the_limit() -> None:
    reads, answer = refused_while_reading([])
    assert (reads, answer["status"]) == (3, 413)


def refused_while_reading(headers: list[tuple[bytes, bytes]]) -> tuple[int, Any]:
    """How often a body that never ends was read before its refusal, and the answer's head."""
    reads = 0
    sent: list[Any] = []

    async def receive() -> Any:
        nonlocal reads
        reads += 1
        return {"type": "http.request", "body": b" " * 1000, "more_body": True}

    async def send(message: Any) -> None:
        sent.append(message)

    scope = scope_of("POST", "/receipts", [*JSON_HEADERS, *headers])
    asyncio.run(APP(scope, receive, send))
    return reads, sent[0]


def test_a_resource_may_set_a_limit_of_its_own() -> None:
    assert ask(APP, "POST", "/batches", padded(1024 * 1024)).status == 200
    assert ask(APP, "POST", "/batches", padded(2 * 1024 * 1024 + 1)).status == 413


@pytest.mark.parametrize("length", [b"many", b"-1", b"1e3", b""])
def test_a_length_that_is_no_number_is_a_400(length: bytes) -> None:
    answer = ask(APP, "POST", "/receipts", BODY, [*JSON_HEADERS, (b"content-length", length)])
    assert (answer.status, answer.slug) == (400, "bad-header")


def test_a_client_that_hangs_up_halfway_is_no_fault_of_the_service(
    caplog: pytest.LogCaptureFixture,
) -> None:
    messages = [
        {"type": "http.request", "body": b'{"cou', "more_body": True},
        {"type": "http.disconnect"},
    ]
    sent: list[Any] = []

    async def receive() -> Any:
        return messages.pop(0)

    async def send(message: Any) -> None:
        sent.append(message)

    asyncio.run(APP(scope_of("POST", "/receipts", JSON_HEADERS), receive, send))
    assert sent[0]["status"] == 400
    assert not caplog.records


# Queries


def problem_of_query(query: bytes) -> Answer:
    answer = ask(APP, "GET", "/receipts", query=query)
    assert (answer.status, answer.slug) == (400, "bad-query")
    assert all(error["hint"] for error in answer.json["errors"])
    return answer


def test_a_known_query_parameter_is_read() -> None:
    assert ask(APP, "GET", "/receipts", query=b"limit=5").json == {"count": 5.0}


def test_an_unknown_query_parameter_is_refused_by_name() -> None:
    answer = problem_of_query(b"limti=5")
    assert answer.pointers == ["?limti"]
    assert "limit" in answer.json["errors"][0]["hint"]


def test_a_query_where_none_is_taken_is_refused() -> None:
    answer = ask(APP, "POST", "/receipts", BODY, query=b"limit=5")
    assert (answer.status, answer.pointers) == (400, ["?limit"])


def test_a_repeated_query_parameter_is_refused_by_name() -> None:
    assert problem_of_query(b"limit=5&limit=5").pointers == ["?limit"]


def test_a_query_parameter_that_is_a_list_may_be_repeated() -> None:
    assert ask(APP, "GET", "/receipts", query=b"colour=a&colour=b").json == {"count": 2.0}


@pytest.mark.parametrize("value", [b"x", b"", b"0", b"10", b"1.5", b"NaN"])
def test_a_query_parameter_that_cannot_be_read_is_refused_by_name(value: bytes) -> None:
    assert problem_of_query(b"limit=" + value).pointers == ["?limit"]


@pytest.mark.parametrize("query", [b"limit=%ff", b"%c3%28=1", b"limit=\xff"])
def test_a_query_that_is_not_utf_8_is_refused(query: bytes) -> None:
    problem_of_query(query)


# Methods and addresses


def test_head_is_answered_as_get_without_its_content() -> None:
    head, whole = ask(APP, "HEAD", "/receipts"), ask(APP, "GET", "/receipts")
    assert (head.status, head.body) == (200, b"")
    for name in ("content-type", "content-length"):
        assert head.headers[name] == whole.headers[name]


def test_head_of_nothing_is_a_404_without_content() -> None:
    answer = ask(APP, "HEAD", "/nothing")
    assert (answer.status, answer.body) == (404, b"")


ALLOWED = {
    "/receipts": "GET, HEAD, POST, OPTIONS",
    "/receipts/4": "GET, HEAD, PATCH, OPTIONS",
    "/ready-made": "POST, OPTIONS",
}


@pytest.mark.parametrize("path", ALLOWED)
def test_options_lists_the_methods_of_every_handler(path: str) -> None:
    answer = ask(APP, "OPTIONS", path)
    assert (answer.status, answer.headers["allow"], answer.body) == (204, ALLOWED[path], b"")


def test_options_says_what_post_takes() -> None:
    assert ask(APP, "OPTIONS", "/receipts").headers["accept-post"] == "application/json"


def test_options_of_nothing_is_a_404() -> None:
    assert ask(APP, "OPTIONS", "/nothing").slug == "not-found"


@pytest.mark.parametrize("method", ["DELETE", "PUT", "TRACE", "CONNECT", "BREW", "get"])
@pytest.mark.parametrize("path", ALLOWED)
def test_a_method_that_an_address_does_not_take_is_a_405_with_those_it_takes(
    method: str, path: str
) -> None:
    answer = ask(APP, method, path)
    assert (answer.status, answer.slug) == (405, "method-not-allowed")
    assert answer.headers["allow"] == ALLOWED[path]


def test_head_where_there_is_no_get_is_a_405() -> None:
    assert ask(APP, "HEAD", "/ready-made").status == 405


@pytest.mark.parametrize(
    "path",
    [
        "/nothing",
        "/receipts/x",
        "/receipts/1/2",
        "/",
        "",
        "*",
        "/%00",
        "/receipts\x00",
        "/é",
        "/..",
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST", "OPTIONS", "PATCH"])
def test_an_address_that_names_nothing_is_a_404(path: str, method: str) -> None:
    answer = ask(APP, method, path, BODY)
    assert (answer.status, answer.slug) == (404, "not-found")


def test_a_path_parameter_out_of_its_bounds_names_nothing() -> None:
    answer = ask(APP, "GET", "/receipts/100")
    assert (answer.status, answer.slug, answer.pointers) == (404, "not-found", ["{number}"])


@pytest.mark.parametrize("path", ["/receipts/", "//receipts", "/receipts//4", "/receipts/4/"])
@pytest.mark.parametrize("method", ["GET", "OPTIONS"])
def test_a_thing_has_one_address_and_a_slash_more_names_nothing(path: str, method: str) -> None:
    answer = ask(APP, method, path)
    assert answer.slug == "not-found"
    clean = "/" + "/".join(part for part in path.split("/") if part)
    assert f"Did you mean {clean}?" in answer.json["detail"]


# Media types of the answer

WANTED = [
    b"*/*",
    b"application/*",
    b"application/json",
    b"text/html, application/json;q=0.1",
    b"text/html;q=1, */*;q=0.01",
    b"",
]


@pytest.mark.parametrize("accept", WANTED)
def test_json_is_answered_to_whom_it_is_acceptable(accept: bytes) -> None:
    assert ask(APP, "GET", "/receipts", headers=[(b"accept", accept)]).status == 200


UNWANTED = [b"text/html", b"application/xml", b"application/json;q=0", b"*/*;q=0", b"x"]


@pytest.mark.parametrize("accept", UNWANTED)
def test_an_accept_that_cannot_be_met_is_a_406_and_still_a_problem(accept: bytes) -> None:
    answer = ask(APP, "GET", "/receipts", headers=[(b"accept", accept)])
    assert (answer.status, answer.slug) == (406, "not-acceptable")


def test_a_resource_that_is_no_json_is_not_acceptable_to_whom_takes_json_only() -> None:
    for accept, status in ((b"application/json", 406), (b"image/svg+xml", 200), (b"image/*", 200)):
        assert ask(APP, "GET", "/drawing", headers=[(b"accept", accept)]).status == status


# What goes wrong inside


def test_a_problem_raised_in_a_handler_is_answered_as_it_is() -> None:
    answer = ask(APP, "GET", "/failures/conflict")
    assert (answer.status, answer.slug) == (409, "conflict")
    assert answer.json["errors"] == [
        {
            "pointer": "#/state",
            "detail": "Closed.",
            "hint": "Open it.",
            "type": "/problems/conflict",
        }
    ]


def test_a_problem_may_bring_headers() -> None:
    assert ask(APP, "GET", "/failures/later").headers["retry-after"] == "7"


@pytest.mark.parametrize("what", ["bug", "deep", "finite"])
def test_anything_unexpected_is_a_500_problem_that_tells_nothing_and_a_log_line_that_tells_all(
    what: str, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.ERROR, "service"):
        answer = ask(APP, "GET", f"/failures/{what}")
    assert (answer.status, answer.slug) == (500, "internal-error")
    for secret in ("swordfish", "Error", "Traceback", "recursion", "nan"):
        assert secret not in answer.body.decode()
    assert answer.headers["request-id"] in caplog.text
    assert "Traceback" in caplog.text


def test_an_error_of_the_client_is_not_logged_as_an_error(
    caplog: pytest.LogCaptureFixture,
) -> None:
    with caplog.at_level(logging.WARNING):
        ask(APP, "POST", "/receipts", b"{")
    assert not caplog.records


def test_the_lifespan_reaches_the_application(tmp_path: Path) -> None:
    settings = Settings(database_url=f"sqlite+aiosqlite:///{tmp_path / 'empty.sqlite3'}")
    sent: list[str] = []
    messages = [{"type": "lifespan.startup"}, {"type": "lifespan.shutdown"}]

    async def receive() -> Any:
        return messages.pop(0)

    async def send(message: Any) -> None:
        sent.append(message["type"])

    asyncio.run(create_app(settings, ROUTES)({"type": "lifespan"}, receive, send))
    assert sent == ["lifespan.startup.complete", "lifespan.shutdown.complete"]


def test_an_answer_that_has_begun_is_not_followed_by_a_second_one() -> None:
    class Breaking(Reply[str]):
        async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
            await send({"type": "http.response.start", "status": 200, "headers": []})
            raise OSError("disk gone")

    @get("/breaking")
    async def break_off() -> Reply[str]:
        return Breaking("")

    with pytest.raises(Exception, match="after response started"):
        ask(create_app(Settings(), [break_off]), "GET", "/breaking")


def test_a_struct_may_be_answered_whatever_its_numbers_if_they_are_finite() -> None:
    assert msgspec.json.decode(ask(APP, "GET", "/receipts/7").body) == {"count": 7.0}
