"""`axlewright migrate`: brings the database to the revision that this version needs."""

import argparse
import asyncio
import sys
from typing import Any

from service.command.database_file import require_database_file
from service.command.stores import refused
from service.setting_sources import settings_from
from service.store.errors import StoreError


def add(commands: Any) -> None:
    """Add the command to the parser's sub-commands."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "migrate",
        help="bring the database up to date",
        description="Bring the database of AXLEWRIGHT_DATABASE_URL to the revision that this "
        "version needs. `serve` does so by itself for the embedded SQLite.",
    )
    parser.add_argument("--check", action="store_true", help="only say whether it is needed")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """0 when the database is up to date, 1 when `--check` finds that it is not, 2 if it is away."""
    try:
        return _run(options)
    except StoreError as error:
        return refused(error)


def _run(options: argparse.Namespace) -> int:
    from service.store.migration import migrate, migrate_check

    url = settings_from().database_url
    require_database_file(url)
    if options.check:
        missing = asyncio.run(migrate_check(url))
        print(missing or "The database is up to date.", file=sys.stderr if missing else sys.stdout)
        return 1 if missing else 0
    print(f"The database is at revision {asyncio.run(migrate(url))}.")
    return 0
