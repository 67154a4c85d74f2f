"""A shop to ask for: its key, and visits whose rounds and sheets are asked for. All invented."""

import asyncio
import json
from pathlib import Path
from typing import NamedTuple

from served import AXLES, READINGS, ROUND
from stored import made_visit

from service.shipped import shipped
from service.store import keys
from service.store.database import open_store
from service.store.migration import migrate

SCOPES = ["compute", "read", "write"]


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
            shop = await store.create_shop("Load (invented)")
            _, token = await store.write(shop, lambda s: keys.create(s, "load", SCOPES, None))
            made = [await made_visit(store, shop) for _ in range(visits)]
        finally:
            await store.close()
        return Shop(token, [str(one.id) for one in made])

    return asyncio.run(make())


def write_bodies(folder: Path, shop: Shop) -> dict[str, str]:
    """Paths of the files that the scripts for wrk read, by what is in them."""
    solve = shipped("openapi/examples/solution-request.json").read_bytes()
    contents = {
        "solve": json.dumps(json.loads(solve), separators=(",", ":")),
        "round": json.dumps(ROUND, separators=(",", ":")),
        "worksheet": json.dumps({"before": {**READINGS, "vehicle": vehicle()}}),
        "visits": "\n".join(shop.visits),
    }
    for name, text in contents.items():
        (folder / name).write_text(text)
    return {name: str(folder / name) for name in contents}


def vehicle() -> dict[str, object]:
    return {"unit": "tractor", "axles": AXLES}
