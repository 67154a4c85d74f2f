"""Events are pushed at least once, signed so that the reference library accepts them."""

import asyncio
import json
import logging
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from served import VEHICLE, Client, app_of, client_of
from standardwebhooks.webhooks import Webhook, WebhookVerificationError

from service.api import outbound
from service.api.webhook_sender import PAUSES, WebhookSender, next_try
from service.contract.webhook_signatures import signed_headers
from service.settings import Settings
from service.store import webhooks
from service.store.database import Store

pytestmark = pytest.mark.anyio

HOOK = {"url": "https://shop.example/hook"}


class Receiver:
    """Remembers what was posted, and answers what it is told to."""

    def __init__(self, *answers: int | Exception) -> None:
        self.answers = list(answers)
        self.got: list[tuple[str, bytes, Mapping[str, str]]] = []

    async def __call__(self, url: str, body: bytes, headers: Mapping[str, str]) -> int:
        self.got.append((url, body, headers))
        answer = self.answers.pop(0) if self.answers else 204
        if isinstance(answer, Exception):
            raise answer
        return answer


def sender(store: Store, receiver: Receiver) -> WebhookSender:
    return WebhookSender(store, post=receiver)


async def endpoint(client: Client, content: dict[str, Any] = HOOK) -> tuple[str, str]:
    made = await client.made("/v1/webhook-endpoints", content)
    return made["endpoint"]["id"], made["secret"]


async def deliveries(client: Client, state: str) -> Any:
    answer = await client.get("/v1/webhook-deliveries", params={"state": state})
    return answer.json()["items"]


async def due_now(store: Store, client: Client) -> None:
    """Let the time until the next try go by."""
    from service.store.tables import webhook_deliveries

    def work(scope: Any) -> None:
        past = scope.now - timedelta(seconds=1)
        scope._connection.execute(
            webhook_deliveries.update()
            .where(webhook_deliveries.c.shop_id == scope.shop)
            .values(next_attempt_at=past)
        )

    await store.write(client.shop, work)  # type: ignore[attr-defined]


async def test_an_event_arrives_with_a_signature_that_the_reference_accepts(
    client: Client, store: Store
) -> None:
    """Checked by the `standardwebhooks` package, the reference of Standard Webhooks."""
    _, secret = await endpoint(client)
    made = await client.made("/v1/vehicles", VEHICLE)
    receiver = Receiver()
    await sender(store, receiver).sweep_shop(client.shop)  # type: ignore[attr-defined]
    bodies = [json.loads(body) for _, body, _ in receiver.got]
    [told] = [body for body in bodies if body["type"] == "vehicle.created"]
    assert told["data"]["id"] == made["id"]
    for url, body, headers in receiver.got:
        assert url == HOOK["url"]
        Webhook(secret).verify(body.decode(), dict(headers))
        with pytest.raises(WebhookVerificationError):
            Webhook(secret).verify(body.decode() + " ", dict(headers))
    again = Receiver()
    await sender(store, again).sweep_shop(client.shop)  # type: ignore[attr-defined]
    assert again.got == []


async def test_an_answer_with_a_secret_is_not_to_be_kept_by_caches(client: Client) -> None:
    key = {"Idempotency-Key": "once"}
    for _ in range(2):
        answer = await client.post("/v1/webhook-endpoints", json=HOOK, headers=key)
        assert answer.status_code == 201
        assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["idempotent-replayed"] == "true"
    rotations = f"/v1/webhook-endpoints/{answer.json()['endpoint']['id']}/rotations"
    assert (await client.post(rotations, json={})).headers["cache-control"] == "no-store"


async def test_while_secrets_overlap_both_are_signed_with(client: Client, store: Store) -> None:
    id, old = await endpoint(client)
    rotated = await client.post(f"/v1/webhook-endpoints/{id}/rotations", json={})
    new = rotated.json()["secret"]
    assert new != old
    receiver = Receiver()
    await sender(store, receiver).sweep_shop(client.shop)  # type: ignore[attr-defined]
    _, body, headers = receiver.got[0]
    for secret in (old, new):
        Webhook(secret).verify(body.decode(), dict(headers))
    await client.post(f"/v1/webhook-endpoints/{id}/rotations", json={"overlap_minutes": 0})
    await client.made("/v1/vehicles", VEHICLE)
    await sender(store, receiver).sweep_shop(client.shop)  # type: ignore[attr-defined]
    _, body, headers = receiver.got[-1]
    with pytest.raises(WebhookVerificationError):
        Webhook(old).verify(body.decode(), dict(headers))


async def test_only_wanted_types_are_sent(client: Client, store: Store) -> None:
    await endpoint(client, {**HOOK, "event_types": ["visit.created"]})
    await client.visit()
    receiver = Receiver()
    await sender(store, receiver).sweep_shop(client.shop)  # type: ignore[attr-defined]
    assert [json.loads(body)["type"] for _, body, _ in receiver.got] == ["visit.created"]


async def test_a_failed_delivery_is_tried_again_later(client: Client, store: Store) -> None:
    await endpoint(client, {**HOOK, "event_types": ["vehicle.created"]})
    await client.made("/v1/vehicles", VEHICLE)
    receiver = Receiver(500, TimeoutError(), ConnectionRefusedError("refused"))
    own = sender(store, receiver)
    for tries in (1, 2, 3):
        await own.sweep_shop(client.shop)  # type: ignore[attr-defined]
        assert len(receiver.got) == tries
        [pending] = await deliveries(client, "pending")
        assert pending["attempts"] == tries
        assert await own.sweep_shop(client.shop) == 0  # type: ignore[attr-defined]
        await due_now(store, client)
    assert pending["last_error"].startswith("ConnectionRefusedError")
    await own.sweep_shop(client.shop)  # type: ignore[attr-defined]
    [done] = await deliveries(client, "delivered")
    assert (done["attempts"], done["last_status"]) == (4, 204)
    ids = {headers["webhook-id"] for _, _, headers in receiver.got}
    assert len(ids) == 1, "a receiver tells repeated messages by their id"


async def test_after_the_last_try_a_delivery_is_dead_and_can_be_resent(
    client: Client, store: Store
) -> None:
    await endpoint(client, {**HOOK, "event_types": ["vehicle.created"]})
    await client.made("/v1/vehicles", VEHICLE)
    receiver = Receiver(*[503] * (len(PAUSES) + 1))
    own = sender(store, receiver)
    for _ in range(len(PAUSES) + 1):
        await own.sweep_shop(client.shop)  # type: ignore[attr-defined]
        await due_now(store, client)
    [dead] = await deliveries(client, "dead")
    assert dead["attempts"] == len(PAUSES) + 1
    assert dead["last_error"] == "answered 503"
    again = await client.post(f"/v1/webhook-deliveries/{dead['id']}/resends")
    assert again.json()["state"] == "pending"
    await own.sweep_shop(client.shop)  # type: ignore[attr-defined]
    assert [one["id"] for one in await deliveries(client, "delivered")] == [dead["id"]]


async def test_a_silent_endpoint_keeps_no_other_shop_waiting(client: Client, store: Store) -> None:
    """The sender as it runs in the service: one shop's receiver never answers, the other's does.

    The silent shop is owed first, so that a sender that went shop by shop would stop at it.
    """
    silent, arrived = asyncio.Event(), asyncio.Event()

    async def post(url: str, _body: bytes, _headers: Mapping[str, str]) -> int:
        if "silent" in url:
            silent.set()
            await asyncio.Event().wait()
        arrived.set()
        return 204

    await endpoint(client, {"url": "https://silent.example/hook"})
    running = WebhookSender(store, post=post)
    running.start()
    await asyncio.wait_for(silent.wait(), 30)
    async with client_of(app_of(store), store) as other:
        await endpoint(other)
        await asyncio.wait_for(arrived.wait(), 30)
    await running.stop()


async def test_a_fault_of_the_sender_does_not_end_it(
    client: Client, store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    """Something that nobody foresaw is logged, and the next event is sent all the same."""
    log = logging.getLogger("service")
    log.addHandler(caplog.handler)  # the service's own logging ends at this logger
    arrived = asyncio.Event()

    async def post(_url: str, body: bytes, _headers: Mapping[str, str]) -> int:
        if b'"vehicle.created"' not in body:
            raise RuntimeError("nobody foresaw this")
        arrived.set()
        return 204

    await endpoint(client)
    running = WebhookSender(store, post=post)
    running.start()
    await client.made("/v1/vehicles", VEHICLE)
    await asyncio.wait_for(arrived.wait(), 30)
    for _ in range(100):
        if "nobody foresaw this" in caplog.text:
            break
        await asyncio.sleep(0.05)
    await running.stop()
    log.removeHandler(caplog.handler)
    assert "nobody foresaw this" in caplog.text


async def test_one_endpoint_more_than_a_shop_can_have_is_refused(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would never be sent anything. A shop can have 100; here 3, to be quick."""
    assert webhooks.MOST == 100
    monkeypatch.setattr(webhooks, "MOST", 3)
    for _ in range(3):
        await endpoint(client)
    answer = await client.make("/v1/webhook-endpoints", HOOK)
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/conflict")
    assert len((await client.get("/v1/webhook-endpoints")).json()["items"]) == 3


async def test_gone_ends_it_at_once(client: Client, store: Store) -> None:
    await endpoint(client, {**HOOK, "event_types": ["vehicle.created"]})
    await client.made("/v1/vehicles", VEHICLE)
    await sender(store, Receiver(410)).sweep_shop(client.shop)  # type: ignore[attr-defined]
    assert len(await deliveries(client, "dead")) == 1


def test_pauses_grow_and_end_after_some_two_days() -> None:
    assert list(PAUSES) == sorted(PAUSES)
    assert timedelta(days=2) < sum(PAUSES, timedelta()) < timedelta(days=3)
    now = datetime(2026, 1, 1, tzinfo=UTC)
    for tries, pause in enumerate(PAUSES):
        assert 0.89 * pause < next_try(now, tries) - now < 1.11 * pause


@asynccontextmanager
async def listening(answer: bytes) -> AsyncIterator[tuple[int, list[bytes]]]:
    """A bare TCP server that answers every request alike; its port and what it was sent."""
    got: list[bytes] = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        head = await reader.readuntil(b"\r\n\r\n")
        length = int(head.lower().split(b"content-length:")[1].split(b"\r\n")[0])
        got.append(head + await reader.readexactly(length))
        writer.write(answer)
        await writer.drain()
        writer.close()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    try:
        yield server.sockets[0].getsockname()[1], got
    finally:
        server.close()
        await server.wait_closed()


OK = b"HTTP/1.1 204 No Content\r\n\r\n"


async def test_a_post_goes_out_whole() -> None:
    async with listening(OK) as (port, got):
        url = f"http://127.0.0.1:{port}/hook?x=1"
        assert await outbound.post(url, b'{"a":1}', {"webhook-id": "7"}, allow_private=True) == 204
    [sent] = got
    assert sent.startswith(b"POST /hook?x=1 HTTP/1.1\r\nHost: 127.0.0.1:")
    assert b"webhook-id: 7\r\n" in sent
    assert sent.endswith(b'\r\n\r\n{"a":1}')


async def test_a_redirect_is_an_answer_and_not_followed() -> None:
    async with listening(OK) as (inner, hit):
        there = f"HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:{inner}/\r\n\r\n".encode()
        async with listening(there) as (port, _):
            url = f"http://127.0.0.1:{port}/"
            assert await outbound.post(url, b"{}", {}, allow_private=True) == 302
    assert hit == []


@pytest.mark.parametrize(
    "url",
    [
        "https://127.0.0.1/",
        "https://localhost/",
        "https://[::1]/",
        "https://10.1.2.3/",
        "https://172.16.0.1/",
        "https://192.168.1.1/",
        "https://169.254.169.254/latest/meta-data/",
        "https://100.64.0.1/",
        "https://0.0.0.0/",
        "https://[::ffff:127.0.0.1]/",
        "https://[64:ff9b::7f00:1]/",
        "https://[2002:7f00:1::]/",
        "https://[fe80::1]/",
        "https://[fd00::1]/",
        "https://[fec0::1]/",
        "https://[::127.0.0.1]/",
        "https://224.0.0.1/",
        "https://2130706433/",
        "https://0x7f.1/",
        "http://shop.example/",
        "https://user:pw@shop.example/",
    ],
)
async def test_nothing_private_is_called(url: str) -> None:
    with pytest.raises(outbound.RefusedAddressError):
        await outbound.post(url, b"{}", {})


async def test_a_name_that_changes_its_address_gains_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The name is looked up once, and the connection goes to the address that was looked at."""
    loop = asyncio.get_running_loop()
    asked: list[str] = []
    called: list[Any] = []

    async def lookup(host: str, port: int, **_: Any) -> list[Any]:
        asked.append(host)
        address = "93.184.216.34" if len(asked) == 1 else "127.0.0.1"
        return [(2, 1, 6, "", (address, port))]

    async def connect(host: str, port: int, **options: Any) -> Any:
        called.append((host, port, options["server_hostname"]))
        raise ConnectionRefusedError

    monkeypatch.setattr(loop, "getaddrinfo", lookup)
    monkeypatch.setattr(asyncio, "open_connection", connect)
    with pytest.raises(ConnectionRefusedError):
        await outbound.post("https://rebind.example/hook", b"{}", {})
    assert asked == ["rebind.example"]
    assert called == [("93.184.216.34", 443, "rebind.example")]


async def test_one_private_address_among_public_ones_refuses_the_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async def lookup(host: str, port: int, **_: Any) -> list[Any]:
        return [(2, 1, 6, "", (a, port)) for a in ("93.184.216.34", "10.0.0.1")]

    monkeypatch.setattr(asyncio.get_running_loop(), "getaddrinfo", lookup)
    with pytest.raises(outbound.RefusedAddressError, match="not at a public address"):
        await outbound.post("https://mixed.example/", b"{}", {})


async def test_what_is_not_http_is_an_error() -> None:
    async with listening(b"SSH-2.0-x\r\n") as (port, _):
        with pytest.raises(ValueError, match="not HTTP"):
            await outbound.post(f"http://127.0.0.1:{port}/", b"{}", {}, allow_private=True)


async def test_a_private_endpoint_ends_dead_without_a_call(store: Store) -> None:
    """The real sender, with its guard, on an endpoint from when loopback was allowed."""
    door = app_of(store)
    door.app.state["settings"] = Settings(webhooks_private=True)
    async with listening(OK) as (port, got), client_of(door, store) as client:
        await endpoint(client, {"url": f"https://127.0.0.1:{port}/"})
        own = WebhookSender(store)
        for _ in range(len(PAUSES) + 1):
            await own.sweep_shop(client.shop)  # type: ignore[attr-defined]
            await due_now(store, client)
        [dead] = await deliveries(client, "dead")
    assert got == []
    assert dead["last_error"] == "not called: 127.0.0.1 is not at a public address"


def test_a_signature_is_the_reference_librarys() -> None:
    """The example of the Standard Webhooks documents, from memory, and the reference's own."""
    secret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
    at = datetime(2021, 8, 3, 19, 47, 39, tzinfo=UTC)
    body = b'{"test": 2432232314}'
    own = signed_headers([secret], "msg_p5jXN8AQM9LWM0D4loKWxJek", int(at.timestamp()), body)
    theirs = Webhook(secret).sign("msg_p5jXN8AQM9LWM0D4loKWxJek", at, body.decode())
    assert own["webhook-signature"] == theirs
