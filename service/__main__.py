"""`axlewright` on the command line."""

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from service import __version__
from service.setting_rules import SettingsError

COMMANDS = {
    "serve": "serve",
    "solve": "solve",
    "convert": "convert",
    "demo": "demo",
    "openapi": "document",
    "migrate": "migrate",
    "keys": "keys",
    "export": "takeout",
    "import": "takeout",
    "settings": "settings",
}
"""Commands and the modules of `service.command` that add them."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code (0 done, 2 bad input)."""
    parser = argparse.ArgumentParser(
        prog="axlewright",
        description="Axle alignment arithmetic for heavy trucks: a REST service and its tools.",
    )
    parser.add_argument("--version", action="version", version=f"axlewright {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    given = list(sys.argv[1:] if arguments is None else arguments)
    # Only the module of the command that is asked for: most of them import the whole service.
    asked = COMMANDS.get(given[0]) if given else None
    for name in dict.fromkeys([asked] if asked else COMMANDS.values()):
        import_module(f"service.command.{name}").add(commands)
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
