"""First tables: what a shop keeps, the wall between shops, and rows that never change.

Locks: none, the tables are new.
"""

import sqlalchemy as sa
from alembic import op

from service.store.columns import JsonBytes, UtcTime

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

PRESENT = {
    "sqlite_where": sa.text("deleted_at IS NULL"),
    "postgresql_where": sa.text("deleted_at IS NULL"),
}
PENDING = {
    "sqlite_where": sa.text("state = 'pending'"),
    "postgresql_where": sa.text("state = 'pending'"),
}
TABLES = (
    "shops",
    "api_keys",
    "counters",
    "events",
    "idempotency_keys",
    "rate_cards",
    "target_sets",
    "vehicles",
    "webhook_endpoints",
    "rate_card_versions",
    "target_set_versions",
    "visits",
    "webhook_deliveries",
    "line_item_lists",
    "rounds",
)
IMMUTABLE = ("rounds", "target_set_versions", "rate_card_versions", "line_item_lists", "events")
NAMED_FOR_EVERY_SHOP = ("shops", "counters", "webhook_endpoints", "webhook_deliveries")
ROLE = "axlewright_shop"


def upgrade() -> None:
    create_tables()
    if op.get_bind().dialect.name == "postgresql":
        refuse_changes_on_postgresql()
        wall_off_shops()
    else:
        refuse_changes_on_sqlite()


def downgrade() -> None:
    for table in reversed(TABLES):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change()")


def refuse_changes_on_sqlite() -> None:
    for table in IMMUTABLE:
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{change.lower()} BEFORE {change} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} are only ever added'); END"
            )


def refuse_changes_on_postgresql() -> None:
    op.execute(
        "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "RAISE EXCEPTION '% are only ever added', TG_TABLE_NAME USING ERRCODE = '23001'; "
        "END $$"
    )
    for table in IMMUTABLE:
        op.execute(
            f"CREATE TRIGGER {table}_immutable BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )


def wall_off_shops() -> None:
    """Row-level security, forced on the owner too, and a role for logins that stand above it.

    A login that may not make roles is not above the policies, so it does not need the role. The
    role belongs to the whole server and may serve several databases; a downgrade leaves it.
    The policy compares UUIDs, not texts: the planner then merges it with the query's own
    condition, and still knows how many rows to expect.
    """
    every = "current_setting('axlewright.every_shop', true) = 'on'"
    for table in TABLES:
        own = "shop_id = nullif(current_setting('axlewright.shop_id', true), '')::uuid"
        if table in NAMED_FOR_EVERY_SHOP:
            own = f"({own} OR {every})"
        op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
        op.execute(f"CREATE POLICY own_shop ON {table} USING ({own}) WITH CHECK ({own})")
    rights = "rolsuper OR rolbypassrls OR rolcreaterole"
    query = f"SELECT {rights} FROM pg_roles WHERE rolname = current_user"  # noqa: S608
    if not op.get_bind().exec_driver_sql(query).scalar():
        return
    op.execute(
        f"DO $$ BEGIN CREATE ROLE {ROLE} NOLOGIN; "
        "EXCEPTION WHEN duplicate_object OR unique_violation THEN NULL; END $$"
    )
    op.execute(f"GRANT USAGE ON SCHEMA public TO {ROLE}")
    for table in TABLES:
        rights = "SELECT, INSERT" if table in IMMUTABLE else "SELECT, INSERT, UPDATE, DELETE"
        op.execute(f"GRANT {rights} ON {table} TO {ROLE}")


def create_tables() -> None:
    op.create_table(
        "shops",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.PrimaryKeyConstraint("shop_id", name="pk_shops"),
    )
    op.create_table(
        "api_keys",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("prefix", sa.Text, nullable=False),
        sa.Column("secret_hash", sa.LargeBinary, nullable=False),
        sa.Column("scopes", sa.Text, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.Column("expires_at", UtcTime, nullable=True),
        sa.Column("revoked_at", UtcTime, nullable=True),
        sa.Column("last_used_at", UtcTime, nullable=True),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.shop_id"], name="fk_api_keys_shops"),
        sa.PrimaryKeyConstraint("shop_id", "id", name="pk_api_keys"),
    )
    op.create_table(
        "counters",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("last", sa.BigInteger, nullable=False),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.shop_id"], name="fk_counters_shops"),
        sa.PrimaryKeyConstraint("shop_id", "name", name="pk_counters"),
    )
    op.create_table(
        "events",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("sequence", sa.BigInteger, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("type", sa.Text, nullable=False),
        sa.Column("subject", sa.Text, nullable=False),
        sa.Column("data", JsonBytes, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.shop_id"], name="fk_events_shops"),
        sa.PrimaryKeyConstraint("shop_id", "sequence", name="pk_events"),
    )
    op.create_table(
        "idempotency_keys",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("fingerprint", sa.LargeBinary, nullable=False),
        sa.Column("status", sa.Integer, nullable=False),
        sa.Column("headers", JsonBytes, nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.Column("expires_at", UtcTime, nullable=False),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.shop_id"], name="fk_idempotency_keys_shops"),
        sa.PrimaryKeyConstraint("shop_id", "key", name="pk_idempotency_keys"),
    )
    op.create_index("ix_idempotency_keys_expiry", "idempotency_keys", ["shop_id", "expires_at"])

    op.create_table(
        "rate_cards",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.Column("updated_at", UtcTime, nullable=False),
        sa.Column("revision", sa.BigInteger, nullable=False),
        sa.Column("deleted_at", UtcTime, nullable=True),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.shop_id"], name="fk_rate_cards_shops"),
        sa.PrimaryKeyConstraint("shop_id", "name", name="pk_rate_cards"),
    )
    op.create_table(
        "target_sets",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.Column("updated_at", UtcTime, nullable=False),
        sa.Column("revision", sa.BigInteger, nullable=False),
        sa.Column("deleted_at", UtcTime, nullable=True),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.shop_id"], name="fk_target_sets_shops"),
        sa.PrimaryKeyConstraint("shop_id", "name", name="pk_target_sets"),
    )
    op.create_table(
        "vehicles",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("unit_number", sa.Text, nullable=True),
        sa.Column("vin", sa.Text, nullable=True),
        sa.Column("layout", JsonBytes, nullable=False),
        sa.Column("details", JsonBytes, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.Column("updated_at", UtcTime, nullable=False),
        sa.Column("revision", sa.BigInteger, nullable=False),
        sa.Column("deleted_at", UtcTime, nullable=True),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.shop_id"], name="fk_vehicles_shops"),
        sa.PrimaryKeyConstraint("shop_id", "id", name="pk_vehicles"),
    )
    op.create_index(
        "ix_vehicles_created_at_id", "vehicles", ["shop_id", "created_at", "id"], **PRESENT
    )
    op.create_index(
        "ix_vehicles_unit_number_created_at_id",
        "vehicles",
        ["shop_id", "unit_number", "created_at", "id"],
        **PRESENT,
    )
    op.create_index(
        "ix_vehicles_vin_created_at_id",
        "vehicles",
        ["shop_id", "vin", "created_at", "id"],
        **PRESENT,
    )

    op.create_table(
        "webhook_endpoints",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("url", sa.Text, nullable=False),
        sa.Column("description", sa.Text, nullable=False),
        sa.Column("event_types", JsonBytes, nullable=False),
        sa.Column("secrets", JsonBytes, nullable=False),
        sa.Column("enabled", sa.Boolean, nullable=False),
        sa.Column("seen", sa.BigInteger, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.Column("updated_at", UtcTime, nullable=False),
        sa.Column("revision", sa.BigInteger, nullable=False),
        sa.Column("deleted_at", UtcTime, nullable=True),
        sa.ForeignKeyConstraint(["shop_id"], ["shops.shop_id"], name="fk_webhook_endpoints_shops"),
        sa.PrimaryKeyConstraint("shop_id", "id", name="pk_webhook_endpoints"),
    )
    op.create_table(
        "rate_card_versions",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("document", JsonBytes, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "name"],
            ["rate_cards.shop_id", "rate_cards.name"],
            name="fk_rate_card_versions_rate_cards",
        ),
        sa.PrimaryKeyConstraint("shop_id", "name", "version", name="pk_rate_card_versions"),
    )
    op.create_table(
        "target_set_versions",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("document", JsonBytes, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "name"],
            ["target_sets.shop_id", "target_sets.name"],
            name="fk_target_set_versions_target_sets",
        ),
        sa.PrimaryKeyConstraint("shop_id", "name", "version", name="pk_target_set_versions"),
    )
    op.create_table(
        "visits",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("vehicle_id", sa.Uuid, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("visited_at", UtcTime, nullable=False),
        sa.Column("odometer", sa.BigInteger, nullable=True),
        sa.Column("odometer_unit", sa.Text, nullable=True),
        sa.Column("details", JsonBytes, nullable=False),
        sa.Column("closed_at", UtcTime, nullable=True),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.Column("updated_at", UtcTime, nullable=False),
        sa.Column("revision", sa.BigInteger, nullable=False),
        sa.Column("deleted_at", UtcTime, nullable=True),
        sa.ForeignKeyConstraint(
            ["shop_id", "vehicle_id"],
            ["vehicles.shop_id", "vehicles.id"],
            name="fk_visits_vehicles",
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name="pk_visits"),
    )
    op.create_index(
        "ix_visits_state_visited_at_id",
        "visits",
        ["shop_id", "state", "visited_at", "id"],
        **PRESENT,
    )
    op.create_index(
        "ix_visits_vehicle_id_visited_at_id",
        "visits",
        ["shop_id", "vehicle_id", "visited_at", "id"],
        **PRESENT,
    )
    op.create_index("ix_visits_visited_at_id", "visits", ["shop_id", "visited_at", "id"], **PRESENT)

    op.create_table(
        "webhook_deliveries",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("endpoint_id", sa.Uuid, nullable=False),
        sa.Column("sequence", sa.BigInteger, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("next_attempt_at", UtcTime, nullable=False),
        sa.Column("last_status", sa.Integer, nullable=True),
        sa.Column("last_error", sa.Text, nullable=True),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.Column("updated_at", UtcTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "endpoint_id"],
            ["webhook_endpoints.shop_id", "webhook_endpoints.id"],
            name="fk_webhook_deliveries_webhook_endpoints",
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "sequence"],
            ["events.shop_id", "events.sequence"],
            name="fk_webhook_deliveries_events",
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name="pk_webhook_deliveries"),
        sa.UniqueConstraint(
            "shop_id",
            "endpoint_id",
            "sequence",
            name="uq_webhook_deliveries_shop_id_endpoint_id_sequence",
        ),
    )
    op.create_index(
        "ix_webhook_deliveries_due", "webhook_deliveries", ["shop_id", "next_attempt_at"], **PENDING
    )
    op.create_index(
        "ix_webhook_deliveries_state",
        "webhook_deliveries",
        ["shop_id", "state", "created_at", "id"],
    )

    op.create_table(
        "line_item_lists",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("visit_id", sa.Uuid, nullable=False),
        sa.Column("number", sa.BigInteger, nullable=False),
        sa.Column("revision", sa.BigInteger, nullable=False),
        sa.Column("document", JsonBytes, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "visit_id"],
            ["visits.shop_id", "visits.id"],
            name="fk_line_item_lists_visits",
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name="pk_line_item_lists"),
        sa.UniqueConstraint(
            "shop_id", "number", "revision", name="uq_line_item_lists_shop_id_number_revision"
        ),
    )
    op.create_index("ix_line_item_lists_visit", "line_item_lists", ["shop_id", "visit_id"])

    op.create_table(
        "rounds",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("visit_id", sa.Uuid, nullable=False),
        sa.Column("label", sa.Text, nullable=False),
        sa.Column("taken_at", UtcTime, nullable=False),
        sa.Column("request", JsonBytes, nullable=False),
        sa.Column("solution", JsonBytes, nullable=False),
        sa.Column("target_set", sa.Text, nullable=True),
        sa.Column("target_set_version", sa.BigInteger, nullable=True),
        sa.Column("engine", sa.Text, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "visit_id"], ["visits.shop_id", "visits.id"], name="fk_rounds_visits"
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name="pk_rounds"),
    )
    op.create_index("ix_rounds_visit", "rounds", ["shop_id", "visit_id", "taken_at", "id"])
