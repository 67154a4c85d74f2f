"""A page costs the same from a thousand rows to a million: its query reads an index, in order.

Plans are asserted, not times. On PostgreSQL the planner is asked with many rows in the table
and row-level security in force, under the role that the service takes on.
"""

import re
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
import sqlalchemy as sa
from stored import vehicle

from service.store import events, idempotency, rounds, webhooks
from service.store.binding import ShopStatement
from service.store.database import Store
from service.store.postgres import PostgresStore
from service.store.scope import ShopScope
from service.store.tables import rounds as rounds_table
from service.store.tables import vehicles, visits
from service.store.vehicles import VEHICLE_LIST
from service.store.visits import VISIT_LIST, _vehicles_named

pytestmark = pytest.mark.anyio

NOW = datetime(2026, 3, 14, tzinfo=UTC)
ID = uuid4()
FILTERS: list[tuple[str, Any, dict[str, Any], str]] = [
    ("visits", VISIT_LIST, {}, "ix_visits_visited_at_id"),
    ("visits in a state", VISIT_LIST, {"state": "open"}, "ix_visits_state_visited_at_id"),
    ("visits of a vehicle", VISIT_LIST, {"vehicle_id": ID}, "ix_visits_vehicle_id_visited"),
    ("open visits of a vehicle", VISIT_LIST, {"vehicle_id": ID, "state": "open"}, "ix_visits_v"),
    ("vehicles", VEHICLE_LIST, {}, "ix_vehicles_created_at_id"),
    ("vehicles by unit", VEHICLE_LIST, {"unit_number": "7"}, "ix_vehicles_unit_number_created"),
    ("vehicles by VIN", VEHICLE_LIST, {"vin": "x"}, "ix_vehicles_vin_created"),
]


def explain(scope: ShopScope, bound: ShopStatement[Any], values: dict[str, Any]) -> str:
    """The plan, one step a line."""
    connection = scope._connection
    dialect = connection.dialect
    word = "EXPLAIN QUERY PLAN " if dialect.name == "sqlite" else "EXPLAIN "
    compiled = bound.statement.compile(dialect=dialect)
    state = compiled.construct_expanded_state({**values, "shop": scope.shop})
    bind = {**compiled._bind_processors, **state.processors}
    given = state.parameters
    ordered = tuple(
        bind[name](given[name]) if name in bind else given[name] for name in state.positiontup or ()
    )
    text = word + state.statement
    rows = connection.exec_driver_sql(text, ordered).all()
    return "\n".join(" ".join(str(cell) for cell in row) for row in rows)


FILLED: dict[str, UUID] = {}


async def fill(store: Store, shop: UUID) -> UUID:
    """A shop with many rows, enough for PostgreSQL's planner to prefer an index.

    SQLite's planner knows no numbers here, so an empty file shows the same plans.
    """
    if not isinstance(store, PostgresStore):
        return shop
    if "postgresql" in FILLED:
        return FILLED["postgresql"]

    def work(scope: ShopScope) -> None:
        cars, trips = [], []
        for number in range(400):
            id = uuid4()
            at = NOW + timedelta(minutes=number)
            times = {"created_at": at, "updated_at": at, "revision": 1, "deleted_at": None}
            own = {"shop_id": scope.shop, "id": id}
            cars.append({**vehicle(str(number), str(number)), **own, **times})
            trips += [
                {
                    **times,
                    "shop_id": scope.shop,
                    "id": uuid4(),
                    "vehicle_id": id,
                    "state": "open" if turn % 2 else "closed",
                    "visited_at": at + timedelta(days=turn),
                    "odometer": None,
                    "odometer_unit": None,
                    "details": b"{}",
                    "closed_at": None,
                }
                for turn in range(10)
            ]
        scope._connection.execute(sa.insert(vehicles), cars)
        scope._connection.execute(sa.insert(visits), trips)
        scope._connection.execute(sa.insert(rounds_table), [_round(trip) for trip in trips])

    await store.write(shop, work)
    async with store._engine.begin() as connection:  # as autovacuum would after so many rows
        await connection.exec_driver_sql("ANALYZE visits, vehicles, rounds")
    FILLED["postgresql"] = shop
    return shop


def _round(trip: dict[str, Any]) -> dict[str, Any]:
    return {
        "shop_id": trip["shop_id"],
        "id": uuid4(),
        "visit_id": trip["id"],
        "label": "before",
        "taken_at": trip["visited_at"],
        "request": b"{}",
        "solution": b"{}",
        "target_set": None,
        "target_set_version": None,
        "engine": "none",
        "created_at": trip["created_at"],
    }


@pytest.mark.parametrize("after", [False, True], ids=["first page", "later page"])
@pytest.mark.parametrize(
    ("listing", "equal", "index"), [f[1:] for f in FILTERS], ids=[f[0] for f in FILTERS]
)
async def test_a_page_reads_its_index(
    store: Store, shop: UUID, listing: Any, equal: dict[str, Any], index: str, after: bool
) -> None:
    shop = await fill(store, shop)
    amid = NOW + (timedelta(minutes=200) if listing is VEHICLE_LIST else timedelta(days=5))
    values = {**equal, "limit": 51, "before_time": amid, "before_id": uuid4()}
    bound = listing.statement(tuple(equal), False, False, after)
    if not after:
        del values["before_time"], values["before_id"]

    plan = await store.read(shop, lambda s: explain(s, bound, values))
    assert index in plan, plan
    assert "SCAN" not in plan.replace("SCAN CONSTANT ROW", ""), plan
    assert "Seq Scan" not in plan, plan
    assert "TEMP B-TREE" not in plan, plan
    assert "Sort" not in plan, plan
    if after:
        assert re.search(r"\((visited_at|created_at),id\)<|ROW\(\w+, id\) <", plan), plan


SMALL: list[tuple[str, ShopStatement[Any], dict[str, Any], list[str]]] = [
    ("rounds of a visit", rounds._OF_VISIT, {"visit": ID}, ["ix_rounds_visit"]),
    ("room for a round", rounds._TAKES_ROUNDS, {"visit": ID}, ["ix_rounds_visit"]),
    (
        "days of a vehicle",
        rounds._DAYS,
        {"vehicle": ID, "limit": 200},
        ["ix_visits_vehicle_id_visited"],
    ),
    ("rounds of days", rounds._OF_DAYS, {"visits": [ID, uuid4()]}, ["ix_rounds_visit"]),
    ("news", events._AFTER, {"after": 7, "limit": 50}, ["pk_events|sqlite_autoindex_events_1"]),
    ("due deliveries", webhooks._DUE, {"now": NOW, "limit": 20}, ["ix_webhook_deliveries_due"]),
    (
        "dead deliveries",
        webhooks._IN_STATE,
        {"state": "dead", "limit": 50},
        ["ix_webhook_deliveries_state"],
    ),
    ("expired answers", idempotency._SOME_EXPIRED, {"now": NOW}, ["ix_idempotency_keys_expiry"]),
    ("old deliveries", webhooks._SOME_DELIVERED, {"before": NOW}, ["ix_webhook_deliveries_state"]),
]


@pytest.mark.parametrize(
    ("bound", "values", "indexes"), [one[1:] for one in SMALL], ids=[one[0] for one in SMALL]
)
async def test_whatever_is_asked_of_a_growing_table_reads_an_index(
    store: Store,
    shop: UUID,
    bound: ShopStatement[Any],
    values: dict[str, Any],
    indexes: list[str],
) -> None:
    """Some tables are near empty here, so PostgreSQL is told that it is dear to read all of one.

    So it is to sort: of next to nothing any index would else do, whatever its order.
    """
    shop = await fill(store, shop)

    def look(scope: ShopScope) -> str:
        if scope._connection.dialect.name == "postgresql":
            scope._connection.exec_driver_sql("SET LOCAL enable_seqscan = off")
            scope._connection.exec_driver_sql("SET LOCAL enable_sort = off")
        return explain(scope, bound, values)

    plan = await store.read(shop, look)
    for index in indexes:
        assert re.search(index, plan), plan
    assert "Seq Scan" not in plan, plan
    assert not re.search(r"\bSCAN (?!CONSTANT ROW)", plan), plan


@pytest.mark.parametrize("name", ["unit_number", "vin"])
async def test_vehicles_by_name_read_their_index(store: Store, shop: UUID, name: str) -> None:
    """Visits by unit number or VIN look the vehicles up first, then read each one's visits."""
    shop = await fill(store, shop)
    bound = _vehicles_named((name,))
    plan = await store.read(shop, lambda s: explain(s, bound, {name: "7"}))
    assert f"ix_vehicles_{name}" in plan, plan
