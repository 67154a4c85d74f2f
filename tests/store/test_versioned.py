"""Target sets and rate cards: a change is a new version, and every version stays."""

from uuid import UUID

import pytest
from stored import made_visit

from service.store import line_item_lists
from service.store.database import Store
from service.store.errors import Conflict, NotFound, RevisionNeeded, StaleRevision
from service.store.versioned import RATE_CARDS, TARGET_SETS, Versioned

pytestmark = pytest.mark.anyio

KINDS = pytest.mark.parametrize("kind", [TARGET_SETS, RATE_CARDS], ids=lambda kind: kind.called)


@KINDS
async def test_a_change_is_a_new_version_and_the_old_one_stays(
    store: Store, shop: UUID, kind: Versioned
) -> None:
    await store.write(shop, lambda s: kind.put(s, "own", b'{"rows":[1]}', None))
    second, new = await store.write(shop, lambda s: kind.put(s, "own", b'{"rows":[2]}', 1))
    assert (second.version, new) == (2, True)
    first = await store.read(shop, lambda s: kind.version(s, "own", 1))
    assert first.document == b'{"rows":[1]}'
    assert await store.read(shop, lambda s: kind.newest(s, "own")) == second
    assert await store.read(shop, kind.all) == [second]


@KINDS
async def test_the_same_document_again_is_no_new_version(
    store: Store, shop: UUID, kind: Versioned
) -> None:
    first = await store.write(shop, lambda s: kind.put(s, "own", b"{}", None))
    again = await store.write(shop, lambda s: kind.put(s, "own", b"{}", None))
    assert again == (first[0], False) or again[0] == first[0]
    assert again[1] is False


@KINDS
async def test_a_change_needs_the_revision_that_was_read(
    store: Store, shop: UUID, kind: Versioned
) -> None:
    await store.write(shop, lambda s: kind.put(s, "own", b"1", None))
    with pytest.raises(RevisionNeeded):
        await store.write(shop, lambda s: kind.put(s, "own", b"2", None))
    with pytest.raises(StaleRevision):
        await store.write(shop, lambda s: kind.put(s, "own", b"2", 9))


@KINDS
async def test_a_withdrawn_name_keeps_its_versions(
    store: Store, shop: UUID, kind: Versioned
) -> None:
    await store.write(shop, lambda s: kind.put(s, "own", b"1", None))
    await store.write(shop, lambda s: kind.withdraw(s, "own", 1))
    with pytest.raises(NotFound):
        await store.read(shop, lambda s: kind.newest(s, "own"))
    with pytest.raises(Conflict, match="restore"):
        await store.write(shop, lambda s: kind.put(s, "own", b"2", None))
    kept = await store.read(shop, lambda s: kind.version(s, "own", 1))
    assert kept.document == b"1"
    assert await store.write(shop, lambda s: kind.restore(s, "own")) == kept


async def test_final_lists_are_numbered_and_revised(store: Store, shop: UUID) -> None:
    """The first list of a visit takes the shop's next number, a change its next revision."""
    one, two = await made_visit(store, shop), await made_visit(store, shop)

    async def add(visit: UUID, document: bytes) -> tuple[int, int]:
        record = await store.write(shop, lambda s: line_item_lists.add(s, visit, document))
        return record.number, record.revision

    assert await add(one.id, b"1") == (1, 1)
    assert await add(two.id, b"1") == (2, 1)
    assert await add(one.id, b"1") == (1, 1)
    assert await add(one.id, b"2") == (1, 2)
    kept = await store.read(shop, lambda s: line_item_lists.of_visit(s, one.id))
    assert [record.document for record in kept] == [b"1", b"2"]
    assert (await store.read(shop, lambda s: line_item_lists.newest(s, one.id))).revision == 2
