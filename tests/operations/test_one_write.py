"""The head of an answer goes out with what follows it, and never later than it must."""

import json
from typing import Any

import pytest
from running import serving
from served import READINGS

from service.command.one_write import OneWrite
from service.settings import Settings

HEAD = b"HTTP/1.1 200 OK\r\n\r\n"


class Wire:
    """A transport that notes what it is told."""

    def __init__(self) -> None:
        self.told: list[Any] = []

    def write(self, data: bytes) -> None:
        self.told.append(data)

    def close(self) -> None:
        self.told.append("closed")

    def is_closing(self) -> bool:
        return "closed" in self.told


def written(*pieces: bytes) -> tuple[Wire, OneWrite]:
    wire = Wire()
    one: Any = OneWrite(wire)  # type: ignore[arg-type]
    for piece in pieces:
        one.write(piece)
    return wire, one


def test_a_head_waits_for_the_body() -> None:
    assert written(HEAD)[0].told == []
    assert written(HEAD, b"{}")[0].told == [HEAD + b"{}"]


def test_a_head_goes_out_with_an_empty_body() -> None:
    assert written(HEAD, b"")[0].told == [HEAD]


def test_further_pieces_go_out_as_they_come() -> None:
    assert written(HEAD, b"1", b"2", b"", b"3")[0].told == [HEAD + b"1", b"2", b"", b"3"]


def test_an_invitation_to_go_on_is_no_head() -> None:
    invitation = b"HTTP/1.1 100 Continue\r\n\r\n"
    assert written(invitation, HEAD, b"x")[0].told == [invitation, HEAD + b"x"]


def test_a_head_that_nothing_follows_goes_out_before_the_end() -> None:
    wire, one = written(HEAD)
    one.close()
    assert wire.told == [HEAD, "closed"]


def test_all_else_is_the_transports_own() -> None:
    wire, one = written()
    assert one.is_closing() is False
    wire.close()
    assert one.is_closing() is True


@pytest.mark.anyio
async def test_a_client_that_waits_for_the_invitation_gets_it_before_it_sends(
    sqlite_url: str,
) -> None:
    body = json.dumps(READINGS).encode()
    head = (
        b"POST /v1/solutions HTTP/1.1\r\nHost: a\r\nContent-Type: application/json\r\n"
        b"Expect: 100-continue\r\nConnection: close\r\nContent-Length: %d\r\n\r\n" % len(body)
    )
    async with serving(Settings(database_url=sqlite_url)) as running:
        answer = await running.raw(head, body, pause=0.2)
    assert answer.startswith(b"HTTP/1.1 100 Continue\r\n\r\nHTTP/1.1 200 OK\r\n")


@pytest.mark.anyio
async def test_the_answer_to_head_has_its_head(sqlite_url: str) -> None:
    head = b"HEAD /v1/target-sets HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n"
    async with serving(Settings(database_url=sqlite_url)) as running:
        answer = await running.raw(head)
    assert answer.startswith(b"HTTP/1.1 200 OK\r\n")
    assert answer.endswith(b"\r\n\r\n")
