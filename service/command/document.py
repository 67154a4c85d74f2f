"""`axlewright openapi`: prints the OpenAPI document that the service serves."""

import argparse
import sys
from typing import Any

from service.app import document_bytes


def add(commands: Any) -> None:
    """Add the command to the parser's sub-commands."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "openapi", help="print the OpenAPI document", description="Print the OpenAPI 3.1 document."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the document; always 0."""
    sys.stdout.buffer.write(document_bytes())
    return 0
