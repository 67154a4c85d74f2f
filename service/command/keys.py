"""`axlewright keys`: makes, lists and revokes the keys of a shop."""

import argparse
import asyncio
import sys
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from service.command.stores import ChoiceError, opened, refused, shop_of
from service.store import keys
from service.store.errors import StoreError
from service.store.keys import SCOPES, KeyRecord
from service.store.scope import ShopScope


def add(commands: Any) -> None:
    """Add the command to the parser's sub-commands."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "keys", help="make, list and revoke API keys", description="The API keys of a shop."
    )
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    create = actions.add_parser("create", help="make a key and print its token, this once")
    create.add_argument("--name", default="command line", help="what uses the key")
    create.add_argument(
        "--scope", action="append", choices=SCOPES, help="may be repeated; all when left out"
    )
    create.add_argument("--days", type=int, help="days until the key ends; never when left out")
    create.add_argument("--new-shop", metavar="NAME", help="make a shop for the key")
    shown = actions.add_parser("list", help="list the keys without their secrets")
    revoke = actions.add_parser("revoke", help="end a key at once")
    revoke.add_argument("key", help="id of the key, as the list shows it")
    for action in (create, shown, revoke):
        action.add_argument("--shop", metavar="ID", help="needed when there are several shops")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Carry out one action on the database of the settings."""
    action = {"create": _create, "list": _list, "revoke": _revoke}[options.action]
    try:
        return asyncio.run(action(options))
    except (ChoiceError, StoreError) as error:
        return refused(error)


async def _create(options: argparse.Namespace) -> int:
    ends = _end(options.days)
    name: str | None = options.new_shop
    if name is not None and not name.strip():
        raise ChoiceError('the name of the new shop is empty; write --new-shop "Name"')
    async with opened() as store:
        if name is not None:
            shop = await store.create_shop(name)
            print(f"shop   {shop}  {name}", file=sys.stderr)
        else:
            shop = await shop_of(store, options.shop)
        scopes = options.scope or list(SCOPES)
        record, token = await store.write(
            shop, lambda scope: keys.create(scope, options.name, scopes, ends)
        )
    print(f"key    {record.id}  {record.name}  ({record.scopes})", file=sys.stderr)
    print("Keep the token: it cannot be shown again.", file=sys.stderr)
    print(token)
    return 0


def _end(days: int | None) -> datetime | None:
    if days is None:
        return None
    if not 1 <= days <= 36_500:
        raise ChoiceError("--days is from 1 to 36500; leave it out for a key without end")
    return datetime.now(UTC) + timedelta(days=days)


async def _list(options: argparse.Namespace) -> int:
    async with opened() as store:
        shop = await shop_of(store, options.shop)
        found = await store.read(shop, keys.all_keys)
    for record in found:
        print(_line(record))
    return 0


async def _revoke(options: argparse.Namespace) -> int:
    try:
        key = UUID(options.key)
    except ValueError:
        raise ChoiceError(f"{options.key!r} is not the id of a key, which is a UUID") from None

    def work(scope: ShopScope) -> None:
        keys.revoke(scope, key)

    async with opened() as store:
        await store.write(await shop_of(store, options.shop), work)
    print(f"{key} is revoked.")
    return 0


def _line(record: KeyRecord) -> str:
    state = "good"
    if record.revoked_at is not None:
        state = f"revoked {record.revoked_at:%Y-%m-%d %H:%M}"
    elif record.expires_at is not None:
        word = "ended" if keys.ended(record, datetime.now(UTC)) else "until"
        state = f"{word} {record.expires_at:%Y-%m-%d %H:%M}"
    used = "never used" if record.last_used_at is None else f"used {record.last_used_at:%Y-%m-%d}"
    return f"{record.id}  {record.prefix}  {record.scopes:<24}  {state:<24}  {used}  {record.name}"
