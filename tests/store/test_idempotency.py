"""A request sent again is answered again, not done again (draft-ietf-httpapi-idempotency-key)."""

import asyncio
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from stored import vehicle
from stores import holding, waiting_for_a_lock

from service.store.database import Store, open_store
from service.store.errors import Conflict, KeyInFlight, KeyTaken
from service.store.idempotency import (
    LIFE,
    KeyReused,
    forget_expired,
    keep_answer,
    kept_answer,
)
from service.store.postgres import PostgresStore
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLE_LIST, VEHICLES

pytestmark = pytest.mark.anyio


def make_once(scope: ShopScope, key: str = "k1", fingerprint: bytes = b"body") -> tuple[bool, Any]:
    """Whether it was replayed, and the body."""
    kept = kept_answer(scope, key, fingerprint)
    if kept is not None:
        return True, kept.body
    made = VEHICLES.create(scope, vehicle())
    body = str(made.id).encode()
    keep_answer(scope, key, fingerprint, 201, b'{"etag":"1"}', body)
    return False, body


async def vehicles_of(store: Store, shop: UUID) -> int:
    return len((await store.read(shop, lambda s: VEHICLE_LIST.page(s, {}))).items)


async def test_the_same_request_again_is_replayed(store: Store, shop: UUID) -> None:
    first = await store.write_once(shop, "k1", make_once)
    again = await store.write_once(shop, "k1", make_once)
    assert (first[0], again[0]) == (False, True)
    assert first[1] == again[1]
    assert await vehicles_of(store, shop) == 1


async def test_a_key_with_another_body_is_refused(store: Store, shop: UUID) -> None:
    await store.write_once(shop, "k1", make_once)
    with pytest.raises(KeyReused):
        await store.write_once(shop, "k1", lambda s: make_once(s, fingerprint=b"other"))
    assert await vehicles_of(store, shop) == 1


async def test_of_many_at_once_one_is_done(store: Store, shop: UUID) -> None:
    """The others hear that the key is in flight, or the kept answer; nothing is done twice."""
    results = await asyncio.gather(
        *[store.write_once(shop, "k1", make_once) for _ in range(10)], return_exceptions=True
    )
    refused = [r for r in results if isinstance(r, KeyInFlight)]
    answered = [r for r in results if isinstance(r, tuple)]
    assert len(refused) + len(answered) == 10
    assert len(refused) >= 1
    assert len({body for _, body in answered}) == 1
    assert await vehicles_of(store, shop) == 1


async def test_of_two_processes_one_is_done(database_url: str) -> None:
    """Two stores on one database share no memory; between them nothing is done twice."""
    one, two = open_store(database_url), open_store(database_url)
    await one.open()
    await two.open()
    shop = await one.create_shop("Shared (invented)")
    results = await asyncio.gather(
        *[s.write_once(shop, "k1", make_once) for s in (one, two)], return_exceptions=True
    )
    assert all(isinstance(r, tuple | KeyInFlight | KeyTaken) for r in results)
    assert await vehicles_of(one, shop) == 1
    assert (await two.write_once(shop, "k1", make_once))[0] is True
    await one.close()
    await two.close()


async def test_the_work_of_another_process_under_the_key_is_not_waited_for(
    migrated_postgres_url: str,
) -> None:
    """A third transaction holds up the first process's work, by the lock that it needs last."""
    one, two = PostgresStore(migrated_postgres_url), PostgresStore(migrated_postgres_url)
    shop = await one.create_shop("Shared (invented)")
    async with holding(migrated_postgres_url, shop):
        first = asyncio.create_task(one.write_once(shop, "k1", make_once))
        await waiting_for_a_lock(migrated_postgres_url)
        with pytest.raises(KeyInFlight):
            await two.write_once(shop, "k1", make_once)
        assert not first.done()
    made = (await first)[1]
    assert await two.write_once(shop, "k1", make_once) == (True, made)
    await one.close()
    await two.close()


async def test_a_second_answer_under_a_key_undoes_what_it_tells_of(
    store: Store, shop: UUID
) -> None:
    """Whoever does the work before looking is told at the end that the key is taken."""

    def blind(scope: ShopScope) -> None:
        VEHICLES.create(scope, vehicle())
        keep_answer(scope, "k1", b"body", 201, b"{}", b"")

    await store.write(shop, blind)
    with pytest.raises(KeyTaken):
        await store.write(shop, blind)
    assert await vehicles_of(store, shop) == 1


async def test_another_shop_may_use_the_same_key(store: Store, shop: UUID) -> None:
    other = await store.create_shop("Other (invented)")
    await store.write_once(shop, "k1", make_once)
    assert (await store.write_once(other, "k1", make_once))[0] is False


async def test_what_failed_may_be_asked_again_under_its_key(store: Store, shop: UUID) -> None:
    def fails(scope: ShopScope) -> None:
        make_once(scope)
        raise Conflict("no")

    with pytest.raises(Conflict):
        await store.write_once(shop, "k1", fails)
    assert (await store.write_once(shop, "k1", make_once))[0] is False
    assert await vehicles_of(store, shop) == 1


async def test_a_server_error_is_not_kept(store: Store, shop: UUID) -> None:
    await store.write(shop, lambda s: keep_answer(s, "k1", b"body", 503, b"{}", b""))
    assert await store.read(shop, lambda s: kept_answer(s, "k1", b"body")) is None


async def test_an_answer_is_kept_for_a_day(store: Store, shop: UUID) -> None:
    await store.write_once(shop, "k1", make_once)

    def at(after: timedelta) -> Any:
        def work(scope: ShopScope) -> Any:
            scope.now += after
            return kept_answer(scope, "k1", b"body")

        return work

    assert await store.write(shop, at(LIFE - timedelta(seconds=5))) is not None
    assert await store.write(shop, at(LIFE + timedelta(seconds=5))) is None
    assert await store.write(shop, at(timedelta(0))) is None


async def test_expired_answers_are_forgotten(store: Store, shop: UUID) -> None:
    await store.write_once(shop, "k1", make_once)

    def later(scope: ShopScope) -> int:
        scope.now += LIFE + timedelta(seconds=1)
        return forget_expired(scope)

    assert await store.write(shop, forget_expired) == 0
    assert await store.write(shop, later) == 1
