"""The store of the settings, opened for the time of one command."""

import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from uuid import UUID

from service.command.database_file import require_database_file
from service.setting_sources import settings_from
from service.store.database import Store, is_embedded, open_store


class ChoiceError(ValueError):
    """Something that the person at the command line must say; the text says what."""


@asynccontextmanager
async def opened() -> AsyncIterator[Store]:
    """The store; an embedded one is made and brought up to date first."""
    url = settings_from().database_url
    require_database_file(url)
    if is_embedded(url):
        from service.store.migration import migrate

        await migrate(url)
    store = open_store(url)
    await store.open()
    try:
        yield store
    finally:
        await store.close()


async def shop_of(store: Store, said: str | None) -> UUID:
    """The shop that was said, or the only one there is."""
    shops = await store.every_shop()
    if said is not None:
        try:
            wanted = UUID(said)
        except ValueError:
            raise ChoiceError(f"{said!r} is not the id of a shop, which is a UUID") from None
        if wanted not in shops:
            raise ChoiceError(f"there is no shop {wanted}")
        return wanted
    if len(shops) == 1:
        return shops[0]
    if not shops:
        raise ChoiceError(
            'there is no shop yet; `axlewright keys create --new-shop "Name"` makes one'
        )
    listed = ", ".join(str(shop) for shop in shops)
    raise ChoiceError(f"say which shop with --shop: {listed}")


def refused(error: Exception) -> int:
    """Say on the error stream what was refused; the exit code of bad input."""
    print(f"axlewright: {error}", file=sys.stderr)
    return 2
