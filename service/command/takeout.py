"""`axlewright export` and `axlewright import`: a shop's whole data as a file of lines of JSON."""

import argparse
import asyncio
import shutil
import sys
import tempfile
from pathlib import Path
from typing import IO, Any

from service.command.stores import ChoiceError, opened, refused, shop_of
from service.store.errors import StoreError
from service.store.scope import ShopScope
from service.store.takeout import lines_of, shop_in, take_in


def add(commands: Any) -> None:
    """Add both commands to the parser's sub-commands."""
    out: argparse.ArgumentParser = commands.add_parser(
        "export", help="write a shop's whole data to a file", description="Take a shop's data out."
    )
    out.add_argument("file", help="file to write, - for the output stream")
    out.add_argument("--shop", metavar="ID", help="needed when there are several shops")
    out.set_defaults(run=export)
    back: argparse.ArgumentParser = commands.add_parser(
        "import",
        help="read a shop's data into a database that does not have it",
        description="Take a shop's data in, all of it or nothing. Keys are not in the file: make "
        "new ones with `axlewright keys create`.",
    )
    back.add_argument("file", help="file to read, - for the input stream")
    back.set_defaults(run=take_back)


def export(options: argparse.Namespace) -> int:
    """Write the file; the rows are those of one moment."""
    try:
        return asyncio.run(_export(options))
    except (ChoiceError, StoreError, OSError) as error:
        return refused(error)


def take_back(options: argparse.Namespace) -> int:
    """Read the file in one transaction."""
    try:
        return asyncio.run(_import(options))
    except (ChoiceError, StoreError, OSError) as error:
        return refused(error)


async def _export(options: argparse.Namespace) -> int:
    to_stream = options.file == "-"
    target = sys.stdout.buffer if to_stream else Path(options.file).open("wb")  # noqa: SIM115

    def work(scope: ShopScope) -> int:
        if not to_stream:
            target.seek(0)
            target.truncate()
        return sum(target.write(line) > 0 for line in lines_of(scope))

    try:
        async with opened() as store:
            count = await store.snapshot(await shop_of(store, options.shop), work)
    finally:
        target.flush()
        if not to_stream:
            target.close()
    print(f"{count - 2} rows", file=sys.stderr)
    return 0


async def _import(options: argparse.Namespace) -> int:
    with _source(options.file) as source:
        id, name = shop_in(source.readline())

        def work(scope: ShopScope) -> int:
            source.seek(0)  # work may be run again
            source.readline()
            return take_in(scope, source)

        async with opened() as store:
            await store.create_shop(name, id)
            count = await store.write(id, work)
    print(f"{count} rows of {name}, shop {id}")
    return 0


def _source(file: str) -> IO[bytes]:
    """The file to read, which can be gone through twice; it is never held in memory as a whole."""
    if file != "-":
        return Path(file).open("rb")
    kept = tempfile.TemporaryFile()  # noqa: SIM115 - closed by the caller
    shutil.copyfileobj(sys.stdin.buffer, kept)
    kept.seek(0)
    return kept
