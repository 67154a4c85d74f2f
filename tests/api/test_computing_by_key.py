"""Computing that is not open: which keys may, and how soon a revoked one no longer does."""

from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from served import READINGS, Client, client_of

from service.api.callers import Caller, FailedAttempts
from service.api.stored import attach
from service.api.vouched import Vouched
from service.app import create_app
from service.settings import Settings
from service.store import keys
from service.store.database import Store
from service.store.keys import KeyRecord, Token

pytestmark = pytest.mark.anyio


class Clock:
    """Seconds that pass when the test says so."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def app(store: Store) -> Any:
    door = create_app(Settings(compute_open=False))
    attach(door.app, store)
    return door


@pytest.fixture
async def owner(app: Any, store: Store) -> AsyncIterator[Client]:
    """A client whose key may do everything."""
    async with client_of(app, store) as opened:
        yield opened


async def solved(client: Client, token: str = "") -> int:
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    return (await client.post("/v1/solutions", json=READINGS, headers=headers)).status_code


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


async def test_a_key_revoked_elsewhere_computes_for_five_seconds_more(
    app: Any, owner: Client, store: Store
) -> None:
    """Another replica's revocation is learnt of by the next look, and stored work at once."""
    clock = Clock()
    app.app.state["vouched"] = Vouched(clock=clock)
    id, token = await key_of(owner, scopes=["compute", "read"])
    assert await solved(owner, token) == 200
    shop: UUID = owner.shop  # type: ignore[attr-defined]
    await store.write(shop, lambda scope: keys.revoke(scope, UUID(id)))
    bearer = {"Authorization": f"Bearer {token}"}
    assert (await owner.get("/v1/vehicles", headers=bearer)).status_code == 401
    clock.now = 4.9
    assert await solved(owner, token) == 200
    clock.now = 5.0
    assert await solved(owner, token) == 401


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


def test_no_key_is_taken_at_its_word_beyond_its_end() -> None:
    clock = Clock()
    vouched, one = Vouched(seconds=60, clock=clock), caller()
    vouched.add(b"Bearer it", one, record_of(one, datetime.now(UTC) + timedelta(seconds=30)))
    clock.now = 20
    assert vouched.get(b"Bearer it") is one
    clock.now = 30
    assert vouched.get(b"Bearer it") is None


def test_only_so_many_keys_are_remembered() -> None:
    vouched = Vouched(most=2)
    headers = [b"Bearer 1", b"Bearer 2", b"Bearer 3"]
    for header in headers:
        one = caller()
        vouched.add(header, one, record_of(one, None))
    assert [vouched.get(header) is not None for header in headers] == [False, True, True]
