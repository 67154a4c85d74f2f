"""Worksheets that were issued: numbered within the shop, with the content that their hash is of.

Locks: none, the table is new; each shop gets a row in `counters`. A downgrade takes the sheets
away and leaves the counter, so that no number is given twice.
"""

import sqlalchemy as sa
from alembic import op

from service.store.columns import JsonBytes, UtcTime

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

ROLE = "axlewright_shop"


def upgrade() -> None:
    op.create_table(
        "worksheets",
        sa.Column("shop_id", sa.Uuid, nullable=False),
        sa.Column("id", sa.Uuid, nullable=False),
        sa.Column("visit_id", sa.Uuid, nullable=False),
        sa.Column("number", sa.BigInteger, nullable=False),
        sa.Column("sha256", sa.Text, nullable=False),
        sa.Column("before_round", sa.Uuid, nullable=False),
        sa.Column("after_round", sa.Uuid, nullable=True),
        sa.Column("content", JsonBytes, nullable=False),
        sa.Column("created_at", UtcTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "visit_id"], ["visits.shop_id", "visits.id"], name="fk_worksheets_visits"
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name="pk_worksheets"),
        sa.UniqueConstraint("shop_id", "number", name="uq_worksheets_shop_id_number"),
    )
    op.create_index("ix_worksheets_visit", "worksheets", ["shop_id", "visit_id"])
    if op.get_bind().dialect.name == "postgresql":
        guard_on_postgresql()
    else:
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER worksheets_no_{change.lower()} BEFORE {change} ON worksheets "
                "BEGIN SELECT RAISE(ABORT, 'worksheets are only ever added'); END"
            )
    op.execute(
        "INSERT INTO counters (shop_id, name, last) SELECT shop_id, 'worksheet', 0 FROM shops "
        "WHERE NOT EXISTS (SELECT 1 FROM counters AS c "
        "WHERE c.shop_id = shops.shop_id AND c.name = 'worksheet')"
    )


def downgrade() -> None:
    op.drop_table("worksheets")


def guard_on_postgresql() -> None:
    """Rows that never change, the wall between shops, and the right of the shops' role."""
    op.execute(
        "CREATE TRIGGER worksheets_immutable BEFORE UPDATE OR DELETE ON worksheets "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
    )
    own = "shop_id = nullif(current_setting('axlewright.shop_id', true), '')::uuid"
    op.execute("ALTER TABLE worksheets ENABLE ROW LEVEL SECURITY")
    op.execute("ALTER TABLE worksheets FORCE ROW LEVEL SECURITY")
    op.execute(f"CREATE POLICY own_shop ON worksheets USING ({own}) WITH CHECK ({own})")
    there = f"EXISTS (SELECT FROM pg_roles WHERE rolname = '{ROLE}')"
    right = f"GRANT SELECT, INSERT ON worksheets TO {ROLE}"
    op.execute(f"DO $$ BEGIN IF {there} THEN {right}; END IF; END $$")
    # The counters of every shop are made at once, which the wall allows for this transaction.
    op.execute("SELECT set_config('axlewright.every_shop', 'on', true)")
