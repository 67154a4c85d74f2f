"""`axlewright demo`: an invented truck, its readings, its solution, and the server to try it on."""

import argparse
import asyncio
import json
import sys
from typing import Any

from service.command.exchange import ask
from service.command.serve import chosen, serve
from service.command.table import solution_table
from service.shipped import shipped

EXAMPLE = "openapi/examples/solution-request.tandem-out-of-line.json"


def add(commands: Any) -> None:
    """Add the command to the parser's sub-commands."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "demo",
        help="solve an invented truck and serve",
        description="Print the readings and the solution of an invented tractor, and the curl "
        "line that repeats it; then serve until interrupted.",
    )
    parser.add_argument("--host", help="address to listen on, default 127.0.0.1")
    parser.add_argument("--port", type=int, help="port to listen on, default 8410")
    parser.add_argument("--no-serve", action="store_true", help="print and stop")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the example, its solution and the curl line; then serve."""
    settings = chosen(options)
    path = shipped(EXAMPLE)
    body = path.read_bytes()
    answer = asyncio.run(ask("POST", "/v1/solutions", body))
    if answer.status != 200:
        print(answer.body.decode(), file=sys.stderr)
        return 1
    print(_readings(json.loads(body)))
    print()
    print(solution_table(json.loads(answer.body)))
    print()
    print("Ask the service yourself:")
    print(
        f"  curl -s http://{settings.host}:{settings.port}/v1/solutions "
        f"-H 'Content-Type: application/json' -d @{path}"
    )
    if not options.no_serve:
        print(f"\nServing on http://{settings.host}:{settings.port}, Ctrl-C stops.", flush=True)
        return serve(settings)
    return 0


def _readings(request: dict[str, Any]) -> str:
    """What the technician of the invented shop wrote down."""
    unit = {"in": "inches"}.get(request["length_unit"], request["length_unit"])
    lines = [f"READINGS (an invented {request['vehicle']['unit']}, {unit})"]
    for reading in request["readings"]:
        given = dict(reading)
        kind = given.pop("kind").replace("_", " ")
        axle = given.pop("axle", None)
        where = f"axle {axle}" if axle is not None else ""
        values = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in given.items())
        lines.append(f"  {kind:<14}{where:<8}{values}")
    return "\n".join(lines)
