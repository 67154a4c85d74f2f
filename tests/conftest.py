"""Fixtures of `stores`: whatever works on a store or on its API runs on both databases."""

from pathlib import Path

import pytest
from stores import (  # noqa: F401 - pytest finds fixtures by name
    anyio_backend,
    client,
    database_url,
    empty_url,
    migrated_postgres_url,
    migrated_sqlite_file,
    postgres_url,
    shop,
    sqlite_url,
    store,
)

LONGEST_FIRST = (
    "contract/wire/test_against_schemathesis.py",
    "contract_gate/test_clients.py",
    "contract/test_fuzz_stored.py",
    "contract_gate/test_gate.py",
    "test_guides.py",
    "contract/test_fuzz_door.py",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest, so that workers, which take whole files, end together."""
    rank = {name: at for at, name in enumerate(LONGEST_FIRST)}
    folder = Path(__file__).parent
    items.sort(key=lambda one: rank.get(one.path.relative_to(folder).as_posix(), len(rank)))
