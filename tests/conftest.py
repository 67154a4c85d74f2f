"""Fixtures of `stores`: whatever works on a store or on its API runs on both databases."""

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
