"""`axlewright serve`: the service on a port of this machine."""

import argparse
import gc
import sys
from typing import Any

import msgspec

from service.command.database_file import require_database_file
from service.setting_sources import read_settings
from service.settings import Settings


def add(commands: Any) -> None:
    """Add the command to the parser's sub-commands."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "serve",
        help="serve the API",
        description="Serve the API; on loopback with the embedded SQLite unless settings "
        "(AXLEWRIGHT_*) or options say otherwise.",
    )
    parser.add_argument("--host", help="address to listen on, default 127.0.0.1")
    parser.add_argument("--port", type=int, help="port to listen on, default 8410")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Serve until interrupted."""
    return serve(chosen(options))


def chosen(options: argparse.Namespace) -> Settings:
    """The settings, with what the command line says in their place."""
    said = {name: getattr(options, name) for name in ("host", "port")}
    given = {name: value for name, value in said.items() if value is not None}
    read = read_settings()
    for sentence in read.ignored:
        print(f"axlewright: {sentence}", file=sys.stderr)
    return msgspec.structs.replace(read.settings, **given)


def serve(settings: Settings) -> int:
    """Run the server until it is told to stop; returns the exit code."""
    require_database_file(settings.database_url)
    # Nothing that a start makes is garbage: looking for it would cost a third of the time.
    # `Server` enables it again.
    gc.disable()
    # Imported here: they bring the whole application, which other commands do without.
    from service.command.listening import listening
    from service.command.server import serve_on

    if settings.processes == 1:
        return serve_on(listening(settings), settings)
    from service.command.processes import serve_together

    return serve_together(settings)
