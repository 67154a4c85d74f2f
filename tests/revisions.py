"""Revisions, what stands in a database, and a revision that does not exist yet."""

import os
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic.script import ScriptDirectory
from stored import filled

from service.store import migration
from service.store.database import open_store
from service.store.tables import metadata

REVISIONS = [
    revision.revision
    for revision in ScriptDirectory.from_config(migration._config(None)).walk_revisions()
][::-1]
"""Oldest first."""

NEXT = """'''A revision of a test alone: two parents of other tables are built anew or widened.

Locks: {locks}
'''
import sqlalchemy as sa
from alembic import op

revision, down_revision, branch_labels, depends_on = "next", "{newest}", None, None


def upgrade():
    with op.batch_alter_table("vehicles") as batch:
        batch.add_column(sa.Column("colour", sa.Text(), nullable=True))
        batch.alter_column("unit_number", type_=sa.String(500), existing_type=sa.Text())
    with op.batch_alter_table("visits") as batch:
        batch.add_column(sa.Column("bay", sa.Text(), server_default="1", nullable=False))


def downgrade():
    with op.batch_alter_table("visits") as batch:
        batch.drop_column("bay")
    with op.batch_alter_table("vehicles") as batch:
        batch.drop_column("colour")
        batch.alter_column("unit_number", type_=sa.Text(), existing_type=sa.String(500))
    {harm}
"""


def with_a_next_revision(
    folder: Path, monkeypatch: pytest.MonkeyPatch, locks: str = "visits, vehicles", harm: str = ""
) -> None:
    """Let the migration see one revision more than there is."""
    text = NEXT.format(locks=locks, newest=REVISIONS[-1], harm=harm)
    (folder / "next.py").write_text(text)
    config = migration._config

    def wider(connection: sa.Connection | None) -> Any:
        made = config(connection)
        own = Path(str(made.get_main_option("script_location"))) / "versions"
        made.set_main_option("version_locations", f"{own}{os.pathsep}{folder}")
        return made

    monkeypatch.setattr(migration, "_config", wider)
    monkeypatch.setattr(migration, "newest_revision", lambda: "next")


def everything(connection: sa.Connection) -> dict[str, list[Any]]:
    """Every row of every table, by the models."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("SET LOCAL row_security = off")
    return {
        str(table.name): [
            tuple(row)
            for row in connection.execute(sa.select(table).order_by(*table.primary_key.columns))
        ]
        for table in metadata.sorted_tables
    }


async def fill(url: str) -> dict[str, list[Any]]:
    """Rows in every table of a migrated database."""
    store = open_store(url)
    await store.open()
    await filled(store)
    await store.close()
    rows = await migration._on(url, everything)
    assert all(rows.values()), [name for name, found in rows.items() if not found]
    return rows
