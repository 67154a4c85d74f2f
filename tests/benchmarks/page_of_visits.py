"""Whether a page of 50 visits costs the same of 1,000 visits and of 1,000,000.

Run `python tests/benchmarks/page_of_visits.py [--most 1000000]`. For each database it prints, in
one run, the milliseconds of a page read through the store (one transaction, without HTTP, the best
of many) as the visits of the shop grow tenfold each time, and the ratio of the last to the first.
The plans are asserted in tests/store/test_indexes.py; here is what they come to.
"""

import argparse
import asyncio
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import sqlalchemy as sa

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from stored import vehicle  # noqa: E402
from stores import start_postgres  # noqa: E402

from service.store.cursors import write_cursor  # noqa: E402
from service.store.database import Store, open_store  # noqa: E402
from service.store.migration import _on, migrate  # noqa: E402
from service.store.scope import ShopScope  # noqa: E402
from service.store.vehicles import VEHICLES  # noqa: E402
from service.store.visits import VISIT_LIST  # noqa: E402

FLEET = 20
PAGES = 150
START = datetime(2020, 1, 1, tzinfo=UTC)
SQLITE = """
INSERT INTO visits (shop_id, id, vehicle_id, state, visited_at, details, created_at, updated_at,
                    revision)
WITH RECURSIVE n(n) AS (SELECT :first UNION ALL SELECT n + 1 FROM n WHERE n + 1 < :last),
at(n, t) AS (SELECT n, strftime('%Y-%m-%dT%H:%M:%S.000000Z', '2020-01-01', n || ' minutes')
             FROM n),
own(id, place) AS MATERIALIZED (SELECT id, row_number() OVER (ORDER BY id) - 1 FROM vehicles
                                WHERE shop_id = :shop)
SELECT :shop, lower(hex(randomblob(16))), own.id, iif(n % 10 = 0, 'open', 'closed'), t, '{}',
       t, t, 1
FROM at JOIN own ON own.place = n % :fleet
"""
POSTGRESQL = """
INSERT INTO visits (shop_id, id, vehicle_id, state, visited_at, details, created_at, updated_at,
                    revision)
SELECT :shop, gen_random_uuid(), own.id, CASE WHEN n % 10 = 0 THEN 'open' ELSE 'closed' END,
       t, '{}', t, t, 1
FROM generate_series(CAST(:first AS bigint), CAST(:last AS bigint) - 1) AS n
CROSS JOIN LATERAL (SELECT timestamptz '2020-01-01 00:00Z' + n * interval '1 minute' AS t) AS at
JOIN (SELECT id, row_number() OVER (ORDER BY id) - 1 AS place FROM vehicles
      WHERE shop_id = :shop) AS own ON own.place = n % CAST(:fleet AS bigint)
"""


async def grow(url: str, shop: UUID, first: int, last: int) -> None:
    """Visits from the first to before the last, a minute apart, spread over the fleet."""

    def work(connection: sa.Connection) -> None:
        embedded = connection.dialect.name == "sqlite"
        if not embedded:
            connection.exec_driver_sql("SET LOCAL row_security = off")
        query = sa.text(SQLITE if embedded else POSTGRESQL)
        values = {"first": first, "last": last, "fleet": FLEET}
        connection.execute(query, {**values, "shop": shop.hex if embedded else shop})

    await _on(url, work)
    await _on(url, lambda c: c.exec_driver_sql("ANALYZE") and None)


async def measured(
    store: Store, shop: UUID, equal: dict[str, Any], place: datetime | None
) -> float:
    """Milliseconds of a page, the best of many: whatever else the machine does only adds to it."""
    cursor = None
    if place is not None:
        filter = ["visits", sorted(equal.items()), None, None]
        cursor = write_cursor(shop, filter, (place, UUID(int=0)))

    def work(scope: ShopScope) -> int:
        return len(VISIT_LIST.page(scope, equal, cursor=cursor, limit=50).items)

    times = []
    for _ in range(PAGES):
        start = time.perf_counter()
        assert await store.read(shop, work) == 50
        times.append((time.perf_counter() - start) * 1e3)
    return min(times)


async def compare(name: str, url: str, most: int) -> None:
    """The table of one database."""
    await migrate(url)
    store = open_store(url)
    await store.open()
    shop = await store.create_shop("Bench (invented)")

    def fleet(scope: ShopScope) -> list[UUID]:
        return [VEHICLES.create(scope, vehicle(str(n))).id for n in range(FLEET)]

    ids = await store.write(shop, fleet)
    there, rows = 0, []
    print(f"{name}\n{'visits':>10} {'newest':>9} {'halfway':>9} {'open':>9} {'of a unit':>9}   ms")
    wanted = 1000
    while wanted <= most:
        await grow(url, shop, there, wanted)
        there = wanted
        halfway = START + timedelta(minutes=there // 2)
        row = [
            await measured(store, shop, {}, None),
            await measured(store, shop, {}, halfway),
            await measured(store, shop, {"state": "open"}, None),
            await measured(store, shop, {"vehicle_id": ids[7]}, None),
        ]
        rows.append(row)
        print(f"{there:>10,} " + " ".join(f"{one:9.2f}" for one in row))
        wanted *= 10
    ratios = [last / first for last, first in zip(rows[-1], rows[0], strict=True)]
    print(f"{'ratio':>10} " + " ".join(f"{one:9.2f}" for one in ratios))
    await store.close()


def main() -> None:
    """Both databases, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=1_000_000)
    options = parser.parse_args()
    folder = tempfile.mkdtemp()
    asyncio.run(compare("SQLite", f"sqlite:///{folder}/bench.sqlite3", options.most))
    for url in start_postgres():
        asyncio.run(compare("PostgreSQL", url, options.most))


if __name__ == "__main__":
    main()
