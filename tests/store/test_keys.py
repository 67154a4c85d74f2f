"""API keys: shown once, kept as a hash, ended at once."""

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest
import sqlalchemy as sa

from service.store import keys
from service.store.database import Store
from service.store.errors import Conflict, NotFound
from service.store.scope import ShopScope

pytestmark = pytest.mark.anyio


async def new_key(store: Store, shop: UUID) -> tuple[keys.KeyRecord, str]:
    return await store.write(shop, lambda s: keys.create(s, "till", ["write", "read"], None))


async def checked(store: Store, text: str) -> keys.KeyRecord | None:
    token = keys.read_token(text)
    assert token is not None
    return await store.read(token.shop, lambda s: keys.check(s, token))


async def test_a_token_proves_its_key(store: Store, shop: UUID) -> None:
    record, text = await new_key(store, shop)
    assert await checked(store, text) == record
    assert record.scopes == "read write"


async def test_the_secret_is_nowhere_in_the_database(store: Store, shop: UUID) -> None:
    _, text = await new_key(store, shop)
    token = keys.read_token(text)
    assert token is not None

    def everything(scope: ShopScope) -> bytes:
        rows = scope._connection.execute(sa.text("SELECT * FROM api_keys")).all()
        return b"|".join(
            value if isinstance(value, bytes) else str(value).encode()
            for row in rows
            for value in row
        )

    stored = await store.read(shop, everything)
    assert token.secret not in stored
    assert text.split(".")[2].encode() not in stored


async def test_a_wrong_secret_key_or_shop_proves_nothing(store: Store, shop: UUID) -> None:
    _, text = await new_key(store, shop)
    token = keys.read_token(text)
    assert token is not None
    other = await store.create_shop("Other (invented)")
    for wrong in (
        token._replace(secret=bytes(32)),
        token._replace(key=uuid4()),
        token._replace(shop=other),
        token._replace(shop=uuid4()),
    ):
        assert await store.read(wrong.shop, lambda s, w=wrong: keys.check(s, w)) is None


@pytest.mark.parametrize(
    "text", ["", "axw_", "axw_a.b.c", "Bearer x", "axw_é.é.é", "axw_" + "A" * 93]
)
def test_what_is_no_token_is_not_looked_up(text: str) -> None:
    assert keys.read_token(text) is None


async def test_a_revoked_key_is_dead_at_once(store: Store, shop: UUID) -> None:
    record, text = await new_key(store, shop)
    await store.write(shop, lambda s: keys.revoke(s, record.id))
    assert await checked(store, text) is None
    first = await store.read(shop, lambda s: keys.get(s, record.id))
    await store.write(shop, lambda s: keys.revoke(s, record.id))
    assert await store.read(shop, lambda s: keys.get(s, record.id)) == first


async def test_an_expired_key_proves_nothing(store: Store, shop: UUID) -> None:
    _, text = await store.write(
        shop, lambda s: keys.create(s, "old", ["read"], s.now - timedelta(seconds=1))
    )
    assert await checked(store, text) is None


async def test_a_rotated_key_goes_on_until_the_overlap_ends(store: Store, shop: UUID) -> None:
    record, text = await new_key(store, shop)
    new, new_text = await store.write(shop, lambda s: keys.rotate(s, record.id, timedelta(hours=1)))
    assert await checked(store, text) is not None
    assert await checked(store, new_text) == new
    assert (new.name, new.scopes) == (record.name, record.scopes)
    await store.write(shop, lambda s: keys.rotate(s, record.id, timedelta(0)))
    assert await checked(store, text) is None


async def rotated(
    store: Store, shop: UUID, id: UUID, minutes: int = 60, ends: datetime | None = None
) -> keys.KeyRecord:
    overlap = timedelta(minutes=minutes)
    record, _ = await store.write(shop, lambda s: keys.rotate(s, id, overlap, ends))
    return record


@pytest.mark.parametrize("ends", [None, datetime(2126, 3, 14, 12, tzinfo=UTC)])
async def test_a_rotation_that_is_asked_for_again_ends_as_the_original_would_have(
    store: Store, shop: UUID, ends: datetime | None
) -> None:
    old, _ = await store.write(shop, lambda s: keys.create(s, "till", ["read"], ends))
    first = await rotated(store, shop, old.id)
    for minutes in (60, 5, 600):
        again = await rotated(store, shop, old.id, minutes)
        assert again.id != first.id
        assert again.expires_at == ends
    third = await rotated(store, shop, first.id)
    assert third.expires_at == ends
    assert (await rotated(store, shop, old.id)).expires_at == ends


async def test_an_end_that_was_chosen_is_no_sign_of_a_rotation(store: Store, shop: UUID) -> None:
    ends = datetime.now(UTC) + timedelta(minutes=30)
    old, _ = await store.write(shop, lambda s: keys.create(s, "till", ["read"], ends))
    await store.write(shop, lambda s: keys.create(s, "till", ["read"], None))
    assert (await rotated(store, shop, old.id)).expires_at == ends


async def test_a_key_that_ended_by_rotation_names_the_one_that_replaced_it(
    store: Store, shop: UUID
) -> None:
    old, _ = await new_key(store, shop)
    first = await rotated(store, shop, old.id, 0)
    with pytest.raises(Conflict, match=f"the key {first.id} has replaced it"):
        await rotated(store, shop, old.id)
    second = await rotated(store, shop, first.id, 0)
    with pytest.raises(Conflict, match=str(second.id)):
        await rotated(store, shop, old.id)
    await store.write(shop, lambda s: keys.revoke(s, second.id))
    with pytest.raises(Conflict, match="make a new one"):
        await rotated(store, shop, old.id)


async def test_a_revoked_key_is_not_rotated(store: Store, shop: UUID) -> None:
    record, _ = await new_key(store, shop)
    await store.write(shop, lambda s: keys.revoke(s, record.id))
    with pytest.raises(Conflict):
        await store.write(shop, lambda s: keys.rotate(s, record.id, timedelta(0)))
    with pytest.raises(NotFound):
        await store.write(shop, lambda s: keys.revoke(s, uuid4()))


async def test_unknown_scopes_are_refused_by_name(store: Store, shop: UUID) -> None:
    with pytest.raises(ValueError, match="owner"):
        await store.write(shop, lambda s: keys.create(s, "x", ["owner"], None))
    with pytest.raises(ValueError, match="none"):
        await store.write(shop, lambda s: keys.create(s, "x", [], None))


async def test_last_use_is_noted_to_the_minute(store: Store, shop: UUID) -> None:
    record, _ = await new_key(store, shop)
    assert keys.use_is_due(record, record.created_at)
    await store.write(shop, lambda s: keys.note_use(s, record.id))
    used = await store.read(shop, lambda s: keys.get(s, record.id))
    assert used.last_used_at is not None
    assert not keys.use_is_due(used, used.last_used_at + timedelta(seconds=59))
    assert keys.use_is_due(used, used.last_used_at + timedelta(seconds=60))
