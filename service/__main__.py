"""`axlewright` on the command line."""

import argparse
import sys
from collections.abc import Sequence

from service import __version__
from service.command import (
    convert,
    demo,
    document,
    keys,
    migrate,
    serve,
    settings,
    solve,
    takeout,
)
from service.setting_rules import SettingsError

COMMANDS = (serve, solve, convert, demo, document, migrate, keys, takeout, settings)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code (0 done, 2 bad input)."""
    parser = argparse.ArgumentParser(
        prog="axlewright",
        description="Axle alignment arithmetic for heavy trucks: a REST service and its tools.",
    )
    parser.add_argument("--version", action="version", version=f"axlewright {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in COMMANDS:
        command.add(commands)
    given = list(sys.argv[1:] if arguments is None else arguments)
    options = parser.parse_args([_readable(argument) for argument in given])
    try:
        code: int = options.run(options)
    except SettingsError as error:
        print(f"axlewright: {error}", file=sys.stderr)
        return 2
    return code


def _readable(argument: str) -> str:
    """Let a negative reading such as -1/16 through: argparse takes it for an option."""
    negative = len(argument) > 1 and argument[0] == "-" and argument[1] in "0123456789."
    return f" {argument}" if negative else argument


if __name__ == "__main__":
    sys.exit(main())
