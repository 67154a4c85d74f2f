"""PostgreSQL tells every process of the service when a key is ended, replaced or changed.

Locks: none of the tables that grow; a trigger is put on `api_keys`. SQLite needs none: its
processes look at the file itself.
"""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """The message goes out with the commit; noting a key's use is no change of what it may do."""
    if op.get_bind().dialect.name != "postgresql":
        return
    op.execute(
        "CREATE FUNCTION tell_of_keys() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "PERFORM pg_notify('axlewright_keys', ''); RETURN NULL; END $$"
    )
    op.execute(
        "CREATE TRIGGER api_keys_told "
        "AFTER UPDATE OF shop_id, id, secret_hash, scopes, expires_at, revoked_at "
        "OR DELETE OR TRUNCATE ON api_keys FOR EACH STATEMENT EXECUTE FUNCTION tell_of_keys()"
    )


def downgrade() -> None:
    if op.get_bind().dialect.name != "postgresql":
        return
    op.execute("DROP TRIGGER api_keys_told ON api_keys")
    op.execute("DROP FUNCTION tell_of_keys()")
