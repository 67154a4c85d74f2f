"""Shops: the one table that names them all, and the counters that each begins with."""

from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.ids import new_id
from service.store.scope import ShopScope
from service.store.tables import counters, shops, webhook_deliveries, webhook_endpoints

_NAME = of_shop(sa.select(shops.c.name))

COUNTERS = ("event", "line_item_list", "worksheet")


def add_shop(connection: sa.Connection, name: str, id: UUID | None) -> UUID:
    """Add a shop with its counters at 0; an id that is there already is left as it is."""
    id = id or new_id()
    there = sa.select(shops.c.shop_id).where(shops.c.shop_id == id)
    if connection.execute(there).first() is None:
        row: dict[str, Any] = {"shop_id": id, "name": name, "created_at": datetime.now(UTC)}
        connection.execute(sa.insert(shops), row)
        connection.execute(
            sa.insert(counters),
            [{"shop_id": id, "name": counter, "last": 0} for counter in COUNTERS],
        )
    return id


def name_of(scope: ShopScope) -> str:
    """What a shop is called."""
    found: list[str] = scope.scalars(_NAME)
    return found[0]


def all_shops(connection: sa.Connection) -> list[UUID]:
    """Every shop, oldest first."""
    order = (shops.c.created_at, shops.c.shop_id)
    return list(connection.execute(sa.select(shops.c.shop_id).order_by(*order)).scalars())


def outbox(connection: sa.Connection) -> tuple[int, float]:
    """Deliveries of every shop that have not arrived, and how long the most overdue one waits."""
    pending = webhook_deliveries.c.state == sa.literal_column("'pending'")
    what = (sa.func.count(), sa.func.min(webhook_deliveries.c.next_attempt_at))
    number, due = connection.execute(sa.select(*what).where(pending)).one()
    late = 0.0 if due is None else (datetime.now(UTC) - due).total_seconds()
    return int(number), max(0.0, late)


def shops_owed(connection: sa.Connection) -> list[UUID]:
    """The shops with events that an endpoint has not seen, or with a delivery that is due."""
    own_counter = sa.and_(
        counters.c.shop_id == webhook_endpoints.c.shop_id, counters.c.name == "event"
    )
    unseen = (
        sa.select(webhook_endpoints.c.shop_id)
        .select_from(webhook_endpoints.join(counters, own_counter))
        .where(
            webhook_endpoints.c.deleted_at.is_(None),
            webhook_endpoints.c.enabled,
            webhook_endpoints.c.seen < counters.c.last,
        )
    )
    due = sa.select(webhook_deliveries.c.shop_id).where(
        webhook_deliveries.c.state == sa.literal_column("'pending'"),
        webhook_deliveries.c.next_attempt_at <= datetime.now(UTC),
    )
    return list(connection.execute(sa.union(unseen, due)).scalars())
