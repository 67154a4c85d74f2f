"""`axlewright solve`: the same request JSON from a file, a table or the raw answer out."""

import argparse
import asyncio
import json
import sys
from pathlib import Path
from typing import Any

from service.command.exchange import Answer, ask
from service.command.table import solution_table

SOLVED, BAD_INPUT = 0, 2


def add(commands: Any) -> None:
    """Add the command to the parser's sub-commands."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "solve",
        help="solve a request from a file",
        description="Solve a request as POST /v1/solutions takes it. Exit code 0: solved; 2: bad "
        "input, with every fault named.",
    )
    parser.add_argument("file", help="JSON file, - for standard input")
    parser.add_argument("--json", action="store_true", help="print the raw answer")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Solve and print; 0 solved, 2 bad input."""
    try:
        body = sys.stdin.buffer.read() if options.file == "-" else Path(options.file).read_bytes()
    except OSError as error:
        print(f"axlewright: {options.file} cannot be read: {error.strerror}", file=sys.stderr)
        return BAD_INPUT
    answer = asyncio.run(ask("POST", "/v1/solutions", body))
    if answer.status != 200:
        return refused(answer, options.json)
    if options.json:
        print(answer.body.decode())
    else:
        print(solution_table(json.loads(answer.body)))
    return SOLVED


def refused(answer: Answer, raw: bool) -> int:
    """Print a problem: as it is, or each fault on lines of its own."""
    if raw:
        print(answer.body.decode())
        return BAD_INPUT
    problem = json.loads(answer.body)
    print(f"axlewright: {problem['title']}. {problem['detail']}", file=sys.stderr)
    for fault in problem.get("errors", []):
        print(f"  {fault['pointer']}: {fault['detail']}\n    {fault['hint']}", file=sys.stderr)
    return BAD_INPUT
