"""The service in this process with a store behind it, and a client with a shop's key."""

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from typing import Any
from uuid import uuid4

import httpx

from service.api.callers import uses_noted
from service.api.stored import ROUTES, attach
from service.api.target_sets import get_target_set, list_target_sets
from service.app import create_app
from service.settings import Settings
from service.store import keys
from service.store.database import Store

EVERY_SCOPE = ("compute", "read", "write", "admin")

AXLES = [
    {"number": 1, "role": "steer", "distance": "0", "tyre_diameter": "40.2"},
    {"number": 2, "role": "drive", "distance": "187 1/2"},
    {"number": 3, "role": "drive", "distance": "239 1/2"},
]
VEHICLE = {
    "length_unit": "in",
    "vehicle": {"unit": "tractor", "axles": AXLES},
    "unit_number": "4711",
    "vin": "1M8GDM9AXKP042788",
}
READINGS = {
    "length_unit": "in",
    "target_set": "truck-published",
    "vehicle": {"unit": "tractor", "axles": AXLES},
    "readings": [
        {"kind": "sightline", "axle": 2, "left": "3 5/16", "right": "3 9/16"},
        {"kind": "sightline", "axle": 3, "left": "3 7/16", "right": "3 3/8"},
        {"kind": "frame_gap", "axle": 2, "left": "30 1/8", "right": "30 3/8"},
        {"kind": "frame_gap", "axle": 3, "left": "30 1/4", "right": "30 1/4"},
        {"kind": "toe_scale", "axle": 1, "toe": "3/32", "baseline": "40.2"},
    ],
}
ROUND = {"label": "before", "request": READINGS}


def new_key() -> dict[str, str]:
    """The header of a request that has not been made before."""
    return {"Idempotency-Key": str(uuid4())}


class Client(httpx.AsyncClient):
    """A client of one shop; creating posts get an idempotency key unless they bring one."""

    async def make(self, path: str, content: Any, **headers: str) -> httpx.Response:
        """POST something that is to be made."""
        return await self.post(path, json=content, headers={**new_key(), **headers})

    async def made(self, path: str, content: Any) -> Any:
        """The body of the answer to a POST that must succeed."""
        answer = await self.make(path, content)
        assert answer.status_code == 201, answer.text
        return answer.json()

    async def visit(self) -> Any:
        """A new visit of a new vehicle."""
        vehicle = await self.made("/v1/vehicles", VEHICLE)
        return await self.made("/v1/visits", {"vehicle_id": vehicle["id"]})


def app_of(store: Store) -> Any:
    """The application, on a store that somebody else opens and closes."""
    door = create_app(Settings(), routes=[*ROUTES, list_target_sets, get_target_set])
    attach(door.app, store)
    return door


@asynccontextmanager
async def client_of(
    app: Any, store: Store, scopes: Sequence[str] = EVERY_SCOPE
) -> AsyncIterator[Client]:
    """A client with a key of a new shop."""
    shop = await store.create_shop("Example Frame and Axle (invented)")
    _, token = await store.write(shop, lambda s: keys.create(s, "test", list(scopes), None))
    async with Client(
        transport=httpx.ASGITransport(app=app),
        base_url="http://test",
        headers={"Authorization": f"Bearer {token}"},
    ) as client:
        client.shop = shop  # type: ignore[attr-defined]
        yield client
        await uses_noted()
