"""A shop to ask for: its key, and visits with a round each. All invented."""

import asyncio
import json
from pathlib import Path
from typing import NamedTuple

from served import ROUND, app_of, client_of

from service.shipped import shipped
from service.store.database import open_store
from service.store.migration import migrate


class Shop(NamedTuple):
    """The key of a shop, and ids of visits that are there."""

    key: str
    visits: list[str]


def make_shop(url: str, visits: int = 1) -> Shop:
    """Bring a database up to date and put a shop into it."""

    async def make() -> Shop:
        await migrate(url)
        store = open_store(url)
        await store.open()
        try:
            async with client_of(app_of(store), store) as client:
                made = [(await client.visit())["id"] for _ in range(visits)]
                for visit in made:
                    await client.made(f"/v1/visits/{visit}/rounds", ROUND)
                return Shop(client.headers["Authorization"].removeprefix("Bearer "), made)
        finally:
            await store.close()

    return asyncio.run(make())


def write_bodies(folder: Path, shop: Shop) -> dict[str, str]:
    """Paths of the files that the scripts for wrk read, by what is in them."""
    solve = shipped("openapi/examples/solution-request.json").read_bytes()
    contents = {
        "solve": json.dumps(json.loads(solve), separators=(",", ":")),
        "round": json.dumps(ROUND, separators=(",", ":")),
        "visits": "\n".join(shop.visits),
    }
    for name, text in contents.items():
        (folder / name).write_text(text)
    return {name: str(folder / name) for name in contents}
