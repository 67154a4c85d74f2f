"""Computing that is not open: which keys may, and how soon a revoked one no longer does."""

import asyncio
from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
import sqlalchemy as sa
from served import READINGS, Client, client_of

from service.api.callers import Caller, FailedAttempts
from service.api.stored import attach
from service.api.vouched import Vouched
from service.app import create_app
from service.settings import Settings
from service.store import keys
from service.store.binding import of_shop
from service.store.database import Store
from service.store.keys import KeyRecord, Token
from service.store.scope import ShopScope
from service.store.sqlite import SqliteStore
from service.store.tables import api_keys

pytestmark = pytest.mark.anyio


class Clock:
    """Seconds that pass when the test says so."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


class Watch:
    """A watch that says what the test wants."""

    said: int | None = 1

    def start(self) -> None:
        """Nothing is to be begun."""

    def mark(self, _token: Token) -> int | None:
        return self.said


@pytest.fixture
async def app(store: Store, anyio_backend: str) -> Any:
    door = create_app(Settings(compute_open=False))
    attach(door.app, store)
    store.key_watch().start()
    return door


@pytest.fixture
async def owner(app: Any, store: Store) -> AsyncIterator[Client]:
    """A client whose key may do everything, once its changes are heard of."""
    async with client_of(app, store) as opened:
        opened.store_is_a_file = isinstance(store, SqliteStore)  # type: ignore[attr-defined]
        token = keys.read_token(opened.headers["authorization"].removeprefix("Bearer "))
        assert token is not None
        for _ in range(500):
            if store.key_watch().mark(token) is not None:
                break
            await asyncio.sleep(0.01)
        yield opened


async def solved(client: Client, token: str = "") -> int:
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    return (await client.post("/v1/solutions", json=READINGS, headers=headers)).status_code


async def soon(client: Client, token: str, status: int) -> bool:
    """Whether computing is answered so, at once or within the second that a notice may take."""
    for _ in range(100):
        if await solved(client, token) == status:
            return True
        if client.store_is_a_file:  # type: ignore[attr-defined]
            return False
        await asyncio.sleep(0.01)
    return False


async def key_of(client: Client, **more: Any) -> tuple[str, str]:
    """Id and token of a new key of the client's shop."""
    content = {"name": "till", "scopes": ["compute"], **more}
    made = (await client.post("/v1/keys", json=content)).json()
    return made["key"]["id"], made["token"]


async def test_computing_asks_for_a_key_that_may_compute(app: Any, store: Store) -> None:
    async with client_of(app, store, ["compute"]) as may, client_of(app, store, ["read"]) as not_:
        assert [await solved(may), await solved(may)] == [200, 200]
        assert [await solved(not_), await solved(not_)] == [403, 403]
        assert await solved(may, "axw_nonsense") == 401


async def test_a_key_revoked_in_this_process_computes_no_more(owner: Client) -> None:
    id, token = await key_of(owner)
    assert await solved(owner, token) == 200
    assert (await owner.delete(f"/v1/keys/{id}")).status_code == 204
    assert await solved(owner, token) == 401


async def test_a_key_replaced_without_overlap_computes_no_more(owner: Client) -> None:
    id, token = await key_of(owner)
    assert await solved(owner, token) == 200
    await owner.post(f"/v1/keys/{id}/rotations", json={"overlap_minutes": 0})
    assert await solved(owner, token) == 401


def revoked(scope: ShopScope, id: UUID) -> None:
    keys.revoke(scope, id)


def replaced(scope: ShopScope, id: UUID) -> None:
    keys.rotate(scope, id, timedelta(0))


def removed(scope: ShopScope, id: UUID) -> None:
    scope.run(of_shop(sa.delete(api_keys).where(api_keys.c.id == id)))


@pytest.mark.parametrize("change", [revoked, replaced, removed])
async def test_a_key_changed_elsewhere_is_looked_at_again(
    owner: Client, store: Store, change: Any
) -> None:
    """What another process does reaches the store and nothing else here."""
    id, token = await key_of(owner)
    assert await solved(owner, token) == 200
    shop: UUID = owner.shop  # type: ignore[attr-defined]
    await store.write(shop, lambda scope: change(scope, UUID(id)))
    assert await soon(owner, token, 401)


async def test_a_key_with_another_secret_is_not_taken_at_its_word(owner: Client) -> None:
    _, token = await key_of(owner)
    assert await solved(owner, token) == 200
    head, _, secret = token.rpartition(".")
    other = ("B" if secret[0] == "A" else "A") + secret[1:]
    assert await solved(owner, f"{head}.{other}") == 401


def caller() -> Caller:
    return Caller(Token(uuid4(), uuid4(), b""), "compute", "192.0.2.1", FailedAttempts())


def record_of(one: Caller, expires_at: datetime | None) -> KeyRecord:
    now = datetime.now(UTC)
    return KeyRecord(
        id=one.token.key,
        name="till",
        prefix="",
        secret_hash=b"",
        scopes="compute",
        created_at=now,
        expires_at=expires_at,
        revoked_at=None,
        last_used_at=None,
    )


def vouched_for(vouched: Vouched, header: bytes, expires_at: datetime | None = None) -> Caller:
    """The caller of a header, looked at and found good."""
    one = caller()
    vouched.add(header, one, record_of(one, expires_at), vouched.before_look(one.token))
    return one


def test_no_key_is_taken_at_its_word_beyond_its_end() -> None:
    clock = Clock()
    vouched = Vouched(Watch(), seconds=60, clock=clock)
    one = vouched_for(vouched, b"Bearer it", datetime.now(UTC) + timedelta(seconds=30))
    clock.now = 20
    assert vouched.get(b"Bearer it") is one
    clock.now = 30
    assert vouched.get(b"Bearer it") is None


def test_a_key_is_taken_at_its_word_for_five_seconds_at_most() -> None:
    """Whatever the watch says: messages may be swallowed on their way."""
    clock = Clock()
    vouched = Vouched(Watch(), clock=clock)
    one = vouched_for(vouched, b"Bearer it")
    clock.now = 4.9
    assert vouched.get(b"Bearer it") is one
    clock.now = 5.0
    assert vouched.get(b"Bearer it") is None


@pytest.mark.parametrize("said", [2, None])
def test_a_key_is_not_taken_at_its_word_once_its_mark_is_another(said: int | None) -> None:
    watch = Watch()
    vouched = Vouched(watch)
    one = vouched_for(vouched, b"Bearer it")
    assert vouched.get(b"Bearer it") is one
    watch.said = said
    assert vouched.get(b"Bearer it") is None


def test_nobody_is_vouched_for_while_the_watch_knows_nothing() -> None:
    watch = Watch()
    watch.said = None
    vouched = Vouched(watch)
    vouched_for(vouched, b"Bearer it")
    assert vouched.get(b"Bearer it") is None


def test_a_key_that_was_changed_while_it_was_looked_at_is_looked_at_again() -> None:
    watch = Watch()
    vouched, one = Vouched(watch), caller()
    sight = vouched.before_look(one.token)
    watch.said = 2
    vouched.add(b"Bearer it", one, record_of(one, None), sight)
    assert vouched.get(b"Bearer it") is None


def test_a_key_that_was_revoked_here_while_it_was_looked_at_is_looked_at_again() -> None:
    vouched, one = Vouched(Watch()), caller()
    sight = vouched.before_look(one.token)
    vouched.forget()
    vouched.add(b"Bearer it", one, record_of(one, None), sight)
    assert vouched.get(b"Bearer it") is None


def test_only_so_many_keys_are_remembered() -> None:
    vouched = Vouched(Watch(), most=2)
    headers = [b"Bearer 1", b"Bearer 2", b"Bearer 3"]
    for header in headers:
        vouched_for(vouched, header)
    assert [vouched.get(header) is not None for header in headers] == [False, True, True]
