"""`axlewright settings`: the settings in force and where each comes from; no password is shown."""

import argparse
import json
import sys
from typing import Any

from service.setting_rules import PREFIX
from service.setting_sources import read_settings
from service.settings import listed


def add(commands: Any) -> None:
    """Add the command to the parser's sub-commands."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "settings",
        help="print the settings in force",
        description="Print the settings that `serve` would run with: name, value and where it "
        "comes from. Passwords are blotted out. Exit code 2: a setting cannot be used.",
    )
    parser.add_argument("--json", action="store_true", help="print them as JSON")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print them; names that set nothing go to the error stream."""
    read = read_settings()
    rows = [(one, read.origins.get(one.name, "default")) for one in listed(read.settings)]
    if options.json:
        told = {one.name: {"value": one.text, "from": origin} for one, origin in rows}
        print(json.dumps(told, indent=2))
    else:
        for one, origin in rows:
            print(f"{PREFIX}{one.name.upper():<20} {one.text:<44} {origin}")
    for sentence in read.ignored:
        print(f"axlewright: {sentence}", file=sys.stderr)
    return 0
