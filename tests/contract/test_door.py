"""What holds for every request and every answer, whatever its resource."""

import asyncio
import logging
from pathlib import Path
from typing import Any

import msgspec
import pytest
from asking import JSON_HEADERS, ask, scope_of
from contract.door_app import APP, BODY, ROUTES
from litestar import get

from service.app import create_app
from service.contract.replies import Reply
from service.settings import Settings


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
