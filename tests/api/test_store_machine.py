"""A random walk over the API against a plain dict: what the service says is what the dict says."""

import asyncio
import shutil
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    consumes,
    invariant,
    multiple,
    rule,
    run_state_machine_as_test,
)
from served import EVERY_SCOPE, ROUND, VEHICLE, Client, app_of

from service.store import keys
from service.store.database import open_store

units = st.sampled_from(["1", "2", "17"])
WHERE: dict[str, str] = {}


class ShopMachine(RuleBasedStateMachine):
    """One shop: vehicles, visits and rounds are made, changed, deleted, restored and closed."""

    vehicles: Bundle[str] = Bundle("vehicles")
    visits: Bundle[str] = Bundle("visits")

    def __init__(self) -> None:
        super().__init__()
        self.loop = asyncio.new_event_loop()
        self.known: dict[str, dict[str, Any]] = {}
        """By id: kind, content, revision, deleted, state, rounds."""
        self.events = 0
        self.run(self._open())

    async def _open(self) -> None:
        self.store = open_store(WHERE["url"])
        await self.store.open()
        shop = await self.store.create_shop("Machine (invented)")
        made = await self.store.write(shop, lambda s: keys.create(s, "m", list(EVERY_SCOPE), None))
        self.client = Client(
            transport=httpx.ASGITransport(app=app_of(self.store)),
            base_url="http://test",
            headers={"Authorization": f"Bearer {made[1]}"},
        )

    def run(self, coroutine: Any) -> Any:
        return self.loop.run_until_complete(coroutine)

    def teardown(self) -> None:
        self.every_change_was_told_once()

        async def close() -> None:
            from service.api.callers import uses_noted

            await uses_noted()
            await self.client.aclose()
            await self.store.close()

        self.run(close())
        self.loop.close()

    def path(self, id: str) -> str:
        return f"/v1/{self.known[id]['kind']}s/{id}"

    def tag(self, id: str) -> dict[str, str]:
        return {"If-Match": f'"{self.known[id]["revision"]}"'}

    @rule(target=vehicles, unit=units)
    def make_vehicle(self, unit: str) -> str:
        made = self.run(self.client.made("/v1/vehicles", {**VEHICLE, "unit_number": unit}))
        self.known[made["id"]] = {
            "kind": "vehicle", "revision": 1, "unit": unit, "deleted": False,
        }  # fmt: skip
        self.events += 1
        return str(made["id"])

    @rule(target=vehicles, unit=units)
    def put_vehicle(self, unit: str) -> str:
        id = str(uuid4())
        for status in (201, 200):
            content = {**VEHICLE, "unit_number": unit}
            answer = self.run(self.client.put(f"/v1/vehicles/{id}", json=content))
            assert answer.status_code == status
        self.known[id] = {"kind": "vehicle", "revision": 1, "unit": unit, "deleted": False}
        self.events += 1
        return id

    @rule(id=vehicles, unit=units, stale=st.booleans())
    def change_vehicle(self, id: str, unit: str, stale: bool) -> None:
        one = self.known[id]
        tag = {"If-Match": '"99"'} if stale else self.tag(id)
        content = {**VEHICLE, "unit_number": unit}
        answer = self.run(self.client.put(self.path(id), json=content, headers=tag))
        if one["deleted"]:
            assert answer.status_code == 409
        elif one["unit"] == unit:
            assert answer.status_code == 200
            assert answer.json()["revision"] == one["revision"]
        elif stale:
            assert answer.status_code == 412
        else:
            assert answer.status_code == 200
            one.update(unit=unit, revision=one["revision"] + 1)
            self.events += 1

    @rule(target=visits, id=vehicles)
    def open_visit(self, id: str) -> Any:
        answer = self.run(self.client.make("/v1/visits", {"vehicle_id": id}))
        if self.known[id]["deleted"]:
            assert answer.status_code == 404
            return multiple()
        assert answer.status_code == 201
        made = answer.json()["id"]
        self.known[made] = {
            "kind": "visit", "revision": 1, "vehicle": id, "deleted": False,
            "state": "open", "rounds": [],
        }  # fmt: skip
        self.events += 1
        return made

    @rule(id=visits, closing=st.booleans())
    def close_or_reopen(self, id: str, closing: bool) -> None:
        one = self.known[id]
        action = "closings" if closing else "reopenings"
        body = None if closing else {"reason": "again"}
        answer = self.run(
            self.client.post(f"{self.path(id)}/{action}", json=body, headers=self.tag(id))
        )
        if one["deleted"]:
            assert answer.status_code == 404
        elif (one["state"] == "open") != closing:
            assert answer.status_code == 409
        else:
            assert answer.status_code == 200
            one.update(state="closed" if closing else "open", revision=one["revision"] + 1)
            self.events += 1

    @rule(id=visits, key=st.sampled_from(["a", "b"]))
    def add_round(self, id: str, key: str) -> None:
        """A key used before for this visit is answered as then, whatever has happened since."""
        one = self.known[id]
        answer = self.run(
            self.client.post(
                f"{self.path(id)}/rounds", json=ROUND, headers={"Idempotency-Key": f"{id}-{key}"}
            )
        )
        before = dict(one["rounds"]).get(key)
        if before is not None:
            assert (answer.status_code, answer.json()["id"]) == (201, before)
            assert answer.headers["idempotent-replayed"] == "true"
        elif one["deleted"]:
            assert answer.status_code == 404
        elif one["state"] == "closed":
            assert answer.status_code == 409
        else:
            assert answer.status_code == 201
            one["rounds"].append((key, answer.json()["id"]))
            self.events += 1

    @rule(id=st.one_of(vehicles, visits))
    def delete(self, id: str) -> None:
        one = self.known[id]
        answer = self.run(self.client.delete(self.path(id), headers=self.tag(id)))
        if one["deleted"]:
            assert answer.status_code == 404
        else:
            assert answer.status_code == 204
            one.update(deleted=True, revision=one["revision"] + 1)
            self.events += 1

    @rule(id=st.one_of(vehicles, visits))
    def restore(self, id: str) -> None:
        one = self.known[id]
        answer = self.run(self.client.post(f"{self.path(id)}/restorations"))
        assert answer.status_code == 200
        if one["deleted"]:
            one.update(deleted=False, revision=one["revision"] + 1)
            self.events += 1
        assert answer.json()["revision"] == one["revision"]

    @rule(id=consumes(visits))
    def read_visit(self, id: str) -> None:
        one = self.known[id]
        answer = self.run(self.client.get(self.path(id)))
        rounds = self.run(self.client.get(f"{self.path(id)}/rounds"))
        if one["deleted"]:
            assert (answer.status_code, rounds.status_code) == (404, 404)
            return
        shown = answer.json()
        assert (shown["state"], shown["revision"]) == (one["state"], one["revision"])
        kept = [round_["id"] for round_ in rounds.json()["items"]]
        assert kept == [id for _, id in one["rounds"]]

    @invariant()
    def lists_show_what_is_there(self) -> None:
        for kind in ("vehicle", "visit"):
            wanted = {
                id for id, one in self.known.items() if one["kind"] == kind and not one["deleted"]
            }
            assert self._listed(f"/v1/{kind}s") == wanted
        for unit in ("1", "17"):
            wanted = {
                id
                for id, one in self.known.items()
                if not one["deleted"] and one.get("unit") == unit
            }
            assert self._listed("/v1/vehicles", unit_number=unit) == wanted

    def every_change_was_told_once(self) -> None:
        told: list[int] = []
        cursor: dict[str, Any] = {}
        while True:
            page = self.run(self.client.get("/v1/events", params={"limit": 7, **cursor})).json()
            told += [event["sequence"] for event in page["items"]]
            if not page["items"]:
                break
            cursor = {"cursor": page["next_cursor"]}
        assert told == list(range(1, self.events + 1))

    def _listed(self, path: str, **query: str) -> set[str]:
        found: list[str] = []
        cursor: dict[str, Any] = {}
        while True:
            params = {"limit": 3, **query, **cursor}
            page = self.run(self.client.get(path, params=params)).json()
            found += [item["id"] for item in page["items"]]
            if page["next_cursor"] is None:
                break
            cursor = {"cursor": page["next_cursor"]}
        assert len(found) == len(set(found))
        return set(found)


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request: pytest.FixtureRequest, migrated_sqlite_file: Path, tmp_path: Path) -> None:
    """The database that the machine walks on, once of each kind."""
    if request.param == "sqlite":
        file = tmp_path / "machine.sqlite3"
        shutil.copy(migrated_sqlite_file, file)
        WHERE["url"] = f"sqlite:///{file}"
    else:
        WHERE["url"] = request.getfixturevalue("migrated_postgres_url")


def walk(examples: int, steps: int) -> None:
    chosen = settings(
        max_examples=examples,
        stateful_step_count=steps,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(ShopMachine, settings=chosen)  # type: ignore[no-untyped-call]


@pytest.mark.usefixtures("where")
def test_the_service_does_what_a_dict_does() -> None:
    walk(8, 20)


@pytest.mark.long
@pytest.mark.usefixtures("where")
def test_the_service_does_what_a_dict_does_on_long_walks() -> None:
    walk(80, 50)
