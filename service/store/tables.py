"""The tables, each leading with the shop in its primary key and in every index.

A PostgreSQL-compatible distributed engine can therefore split all of them by shop, and no index
ever mixes shops. `IMMUTABLE` names the tables whose rows are only ever added.
"""

from uuid import UUID

import sqlalchemy as sa

from service.store.columns import JsonBytes, UtcTime

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
    }
)


def _shop() -> sa.Column[UUID]:
    return sa.Column("shop_id", sa.Uuid, sa.ForeignKey("shops.shop_id"), primary_key=True)


def _shop_of_parent() -> sa.Column[UUID]:
    """The shop of a row whose parent names it already: one check of a foreign key, not two."""
    return sa.Column("shop_id", sa.Uuid, primary_key=True)


def _id() -> sa.Column[UUID]:
    return sa.Column("id", sa.Uuid, primary_key=True)


def _time(name: str, *, nullable: bool = False) -> sa.Column[object]:
    return sa.Column(name, UtcTime, nullable=nullable)


def _text(name: str, *, nullable: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=nullable)


def _number(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=nullable)


def _edited() -> list[sa.Column[object]]:
    return [_time("created_at"), _time("updated_at"), _number("revision")]  # type: ignore[list-item]


def _belongs(column: str, table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["shop_id", column], [f"{table}.shop_id", f"{table}.id"], name=None
    )


shops = sa.Table(
    "shops",
    metadata,
    sa.Column("shop_id", sa.Uuid, primary_key=True),
    _text("name"),
    _time("created_at"),
)

counters = sa.Table(
    "counters", metadata, _shop(), sa.Column("name", sa.Text, primary_key=True), _number("last")
)

api_keys = sa.Table(
    "api_keys",
    metadata,
    _shop(),
    _id(),
    _text("name"),
    _text("prefix"),
    sa.Column("secret_hash", sa.LargeBinary, nullable=False),
    _text("scopes"),
    _time("created_at"),
    _time("expires_at", nullable=True),
    _time("revoked_at", nullable=True),
    _time("last_used_at", nullable=True),
)

vehicles = sa.Table(
    "vehicles",
    metadata,
    _shop(),
    _id(),
    _text("unit_number", nullable=True),
    _text("vin", nullable=True),
    sa.Column("layout", JsonBytes, nullable=False),
    sa.Column("details", JsonBytes, nullable=False),
    *_edited(),
    _time("deleted_at", nullable=True),
)

visits = sa.Table(
    "visits",
    metadata,
    _shop_of_parent(),
    _id(),
    sa.Column("vehicle_id", sa.Uuid, nullable=False),
    _text("state"),
    _time("visited_at"),
    _number("odometer", nullable=True),
    _text("odometer_unit", nullable=True),
    sa.Column("details", JsonBytes, nullable=False),
    _time("closed_at", nullable=True),
    *_edited(),
    _time("deleted_at", nullable=True),
    _belongs("vehicle_id", "vehicles"),
)

rounds = sa.Table(
    "rounds",
    metadata,
    _shop_of_parent(),
    _id(),
    sa.Column("visit_id", sa.Uuid, nullable=False),
    _text("label"),
    _time("taken_at"),
    sa.Column("request", JsonBytes, nullable=False),
    sa.Column("solution", JsonBytes, nullable=False),
    _text("target_set", nullable=True),
    _number("target_set_version", nullable=True),
    _text("engine"),
    _time("created_at"),
    _belongs("visit_id", "visits"),
)


def _versioned(singular: str) -> tuple[sa.Table, sa.Table]:
    """A table of names with their newest version, and the table of the versions."""
    heads = sa.Table(
        f"{singular}s",
        metadata,
        _shop(),
        sa.Column("name", sa.Text, primary_key=True),
        _number("version"),
        *_edited(),
        _time("deleted_at", nullable=True),
    )
    versions = sa.Table(
        f"{singular}_versions",
        metadata,
        _shop_of_parent(),
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("version", sa.BigInteger, primary_key=True),
        sa.Column("document", JsonBytes, nullable=False),
        _time("created_at"),
        sa.ForeignKeyConstraint(
            ["shop_id", "name"], [f"{singular}s.shop_id", f"{singular}s.name"], name=None
        ),
    )
    return heads, versions


target_sets, target_set_versions = _versioned("target_set")
rate_cards, rate_card_versions = _versioned("rate_card")

line_item_lists = sa.Table(
    "line_item_lists",
    metadata,
    _shop_of_parent(),
    _id(),
    sa.Column("visit_id", sa.Uuid, nullable=False),
    _number("number"),
    _number("revision"),
    sa.Column("document", JsonBytes, nullable=False),
    _time("created_at"),
    _belongs("visit_id", "visits"),
    sa.UniqueConstraint("shop_id", "number", "revision"),
)

worksheets = sa.Table(
    "worksheets",
    metadata,
    _shop_of_parent(),
    _id(),
    sa.Column("visit_id", sa.Uuid, nullable=False),
    _number("number"),
    _text("sha256"),
    sa.Column("before_round", sa.Uuid, nullable=False),
    sa.Column("after_round", sa.Uuid, nullable=True),
    sa.Column("content", JsonBytes, nullable=False),
    _time("created_at"),
    _belongs("visit_id", "visits"),
    sa.UniqueConstraint("shop_id", "number"),
)

idempotency_keys = sa.Table(
    "idempotency_keys",
    metadata,
    _shop(),
    sa.Column("key", sa.Text, primary_key=True),
    sa.Column("fingerprint", sa.LargeBinary, nullable=False),
    sa.Column("status", sa.Integer, nullable=False),
    sa.Column("headers", JsonBytes, nullable=False),
    sa.Column("body", sa.LargeBinary, nullable=False),
    _time("expires_at"),
)

events = sa.Table(
    "events",
    metadata,
    _shop(),
    sa.Column("sequence", sa.BigInteger, primary_key=True),
    sa.Column("id", sa.Uuid, nullable=False),
    _text("type"),
    _text("subject"),
    sa.Column("data", JsonBytes, nullable=False),
    _time("created_at"),
)

webhook_endpoints = sa.Table(
    "webhook_endpoints",
    metadata,
    _shop(),
    _id(),
    _text("url"),
    _text("description"),
    sa.Column("event_types", JsonBytes, nullable=False),
    sa.Column("secrets", JsonBytes, nullable=False),
    sa.Column("enabled", sa.Boolean, nullable=False),
    _number("seen"),
    *_edited(),
    _time("deleted_at", nullable=True),
)

webhook_deliveries = sa.Table(
    "webhook_deliveries",
    metadata,
    _shop_of_parent(),
    _id(),
    sa.Column("endpoint_id", sa.Uuid, nullable=False),
    _number("sequence"),
    _text("state"),
    sa.Column("attempts", sa.Integer, nullable=False),
    _time("next_attempt_at"),
    sa.Column("last_status", sa.Integer),
    _text("last_error", nullable=True),
    _time("created_at"),
    _time("updated_at"),
    _belongs("endpoint_id", "webhook_endpoints"),
    sa.ForeignKeyConstraint(
        ["shop_id", "sequence"], ["events.shop_id", "events.sequence"], name=None
    ),
    sa.UniqueConstraint("shop_id", "endpoint_id", "sequence"),
)


def _list_index(table: sa.Table, *columns: str) -> None:
    """An index over the rows not deleted, in the order that a list is read."""
    present = table.c.deleted_at.is_(None)
    sa.Index(
        f"ix_{table.name}_{'_'.join(columns)}",
        table.c.shop_id,
        *[table.c[name] for name in columns],
        sqlite_where=present,
        postgresql_where=present,
    )


for _columns in (
    ("created_at", "id"),
    ("unit_number", "created_at", "id"),
    ("vin", "created_at", "id"),
):
    _list_index(vehicles, *_columns)
for _columns in (
    ("visited_at", "id"),
    ("vehicle_id", "visited_at", "id"),
    ("state", "visited_at", "id"),
):
    _list_index(visits, *_columns)
sa.Index("ix_rounds_visit", rounds.c.shop_id, rounds.c.visit_id, rounds.c.taken_at, rounds.c.id)
sa.Index("ix_line_item_lists_visit", line_item_lists.c.shop_id, line_item_lists.c.visit_id)
sa.Index("ix_worksheets_visit", worksheets.c.shop_id, worksheets.c.visit_id)
sa.Index("ix_idempotency_keys_expiry", idempotency_keys.c.shop_id, idempotency_keys.c.expires_at)
_pending = webhook_deliveries.c.state == "pending"
sa.Index(
    "ix_webhook_deliveries_due",
    webhook_deliveries.c.shop_id,
    webhook_deliveries.c.next_attempt_at,
    sqlite_where=_pending,
    postgresql_where=_pending,
)
sa.Index(
    "ix_webhook_deliveries_state",
    webhook_deliveries.c.shop_id,
    webhook_deliveries.c.state,
    webhook_deliveries.c.created_at,
    webhook_deliveries.c.id,
)

IMMUTABLE = (
    rounds,
    target_set_versions,
    rate_card_versions,
    line_item_lists,
    worksheets,
    events,
)
"""Tables whose rows the database itself refuses to change or to delete."""
