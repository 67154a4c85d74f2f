"""A revision that locks a table which grows says so, for whoever runs it on a shop in business."""

import asyncio
import re
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.script import ScriptDirectory
from revisions import with_a_next_revision
from stores import database_of

from service.store import migration

GROWING = {"visits", "rounds", "events", "webhook_deliveries", "idempotency_keys", "vehicles"}
"""Tables with a row or more for each piece of work; the others grow with the shop's rules."""
LOCKING = re.compile(
    r"(?:ALTER TABLE|DROP TABLE|CREATE (?:UNIQUE )?INDEX \S+ ON|CREATE TRIGGER .* ON)"
    r'\s+"?(\w+)',
    re.IGNORECASE,
)


def locked_by_each_revision(url: str) -> dict[str, set[str]]:
    """By revision the growing tables that were there before and that it locks or rewrites."""
    found: dict[str, set[str]] = {}

    def upgrade(connection: sa.Connection) -> None:
        scripts = ScriptDirectory.from_config(migration._config(connection))
        for revision in [one.revision for one in scripts.walk_revisions()][::-1]:
            there = set(sa.inspect(connection).get_table_names())
            said: list[str] = []

            def note(*event: Any, said: list[str] = said) -> None:
                said.append(event[2])

            sa.event.listen(connection, "before_cursor_execute", note)
            command.upgrade(migration._config(connection), revision)
            sa.event.remove(connection, "before_cursor_execute", note)
            named = {name for text in said for name in LOCKING.findall(text)}
            found[revision] = named & there & GROWING

    asyncio.run(migration._on(url, upgrade))
    return found


def unsaid(url: str) -> list[str]:
    """Revisions whose docstring does not name every table that they lock."""
    scripts = ScriptDirectory.from_config(migration._config(None))
    told = {one.revision: one.module.__doc__ or "" for one in scripts.walk_revisions()}
    notes = {revision: text.partition("Locks: ")[2] for revision, text in told.items()}
    locked = locked_by_each_revision(url)
    return [
        revision
        for revision, names in locked.items()
        if not notes[revision] or not all(name in notes[revision] for name in names)
    ]


def test_every_revision_says_what_it_locks(empty_url: str) -> None:
    """By what it really sends to the database."""
    assert unsaid(empty_url) == []


@pytest.mark.parametrize(
    ("locks", "found"),
    [("none, it is quick", ["next"]), ("", ["next"]), ("visits and vehicles, 2 s a million", [])],
)
def test_a_revision_that_does_not_own_up_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, postgres_url: str, locks: str, found: list[str]
) -> None:
    """What the test above is worth."""
    with_a_next_revision(tmp_path, monkeypatch, locks=locks)
    for url in database_of(postgres_url):
        assert unsaid(url) == found
