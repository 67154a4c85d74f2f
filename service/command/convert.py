"""`axlewright convert`: the conversions of the door on the command line."""

import argparse
import asyncio
import json
from typing import Any

from service.command.exchange import ask
from service.command.solve import BAD_INPUT, SOLVED, refused

WHAT = {
    "toe": "total toe over a named baseline: length, degrees, mm/m, per wheel",
    "thrust": "thrust: length over a named length, degrees",
    "length": "a length in inches, feet and metric units",
}


def add(commands: Any) -> None:
    """Add the command to the parser's sub-commands."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "convert", help="convert a toe, a thrust or a length", description="Convert exactly."
    )
    kinds = parser.add_subparsers(dest="what", required=True, metavar="|".join(WHAT))
    for what, text in WHAT.items():
        kind = kinds.add_parser(what, help=text, description=text)
        # argparse would take -1/16 for an option; it does not take " -1/16" for one.
        kind.add_argument("value", help="as it was read: 1/16, 0.09°, '1.5 mm/m', \"2' 7 3/4\\\"\"")
        kind.add_argument("--unit", default="in", choices=("in", "mm", "cm"), help="default: in")
        kind.add_argument("--json", action="store_true", help="print the raw answer")
        if what == "toe":
            kind.add_argument("--baseline", help="length that the toe is stated over")
        if what == "thrust":
            kind.add_argument("--length", help="length that the thrust is stated over")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Convert and print; 0 converted, 2 bad input."""
    query = {"value": options.value, "unit": options.unit}
    for name in ("baseline", "length"):
        if getattr(options, name, None) is not None:
            query[name] = getattr(options, name)
    answer = asyncio.run(ask("GET", f"/v1/conversions/{options.what}", query=query))
    if answer.status != 200:
        refused(answer, options.json)
        return BAD_INPUT
    if options.json:
        print(answer.body.decode())
    else:
        _print(json.loads(answer.body), "")
    return SOLVED


def _print(told: dict[str, Any], indent: str) -> None:
    for name, value in told.items():
        if isinstance(value, dict):
            print(f"{indent}{name}:")
            _print(value, indent + "  ")
        elif value is not None:
            shown = f"{value:.9g}" if isinstance(value, float) else value
            print(f"{indent}{name}: {shown}")
