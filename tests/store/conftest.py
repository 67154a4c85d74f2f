"""Every test of the store runs on both databases, by the fixtures of `stores`."""

from stores import (  # noqa: F401 - pytest finds fixtures by name
    anyio_backend,
    database_url,
    migrated_postgres_url,
    migrated_sqlite_file,
    postgres_url,
    shop,
    sqlite_url,
    store,
)
