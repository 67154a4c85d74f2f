"""A login that is but a member of the shops' role may read which revision the database has.

Readiness asks for it. Locks: none, a right is granted.
"""

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

ROLE = "axlewright_shop"


def upgrade() -> None:
    for_the_role(f"GRANT SELECT ON alembic_version TO {ROLE}")


def downgrade() -> None:
    for_the_role(f"REVOKE SELECT ON alembic_version FROM {ROLE}")  # noqa: S608


def for_the_role(statement: str) -> None:
    """Run it on PostgreSQL where the role is: a plain owner of the tables makes none."""
    if op.get_bind().dialect.name == "postgresql":
        there = f"EXISTS (SELECT FROM pg_roles WHERE rolname = '{ROLE}')"
        op.execute(f"DO $$ BEGIN IF {there} THEN {statement}; END IF; END $$")
