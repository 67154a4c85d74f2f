"""Checked examples of the contract: `openapi/examples/{component}[.{name}].json`.

`solution-request.json` is an example of `SolutionRequest`, `solution-request.trailer.json`
another one. A test decodes each strictly and validates it against its published schema.
"""

import json
from functools import cache
from pathlib import Path
from typing import Any

from service.contract.schemas import Schema

_PACKAGE = Path(__file__).resolve().parent.parent


@cache
def examples_folder() -> Path:
    """Where the examples lie: in the wheel beside the package's code, else in the checkout."""
    shipped = _PACKAGE / "_shipped" / "openapi" / "examples"
    return shipped if shipped.is_dir() else _PACKAGE.parent / "openapi" / "examples"


def examples(schemas: dict[str, Schema]) -> dict[str, dict[str, Schema]]:
    """Examples of the components in `schemas` by component, each an OpenAPI Example Object.

    The plain sample is the first, which is the one that a documentation page fills in.
    """
    found: dict[str, dict[str, Schema]] = {}
    for file in sorted(examples_folder().glob("*.json"), key=lambda one: one.stem):
        component, name = component_and_name(file)
        if component in schemas:
            value: Any = json.loads(file.read_text("utf-8"))
            summary = f"{name.replace('-', ' ').capitalize()}, invented"
            found.setdefault(component, {})[name] = {"summary": summary, "value": value}
    return found


def example_components(samples: dict[str, dict[str, Schema]]) -> dict[str, Schema]:
    """The examples as components of the document."""
    return {
        f"{component}.{name}": example
        for component, named in samples.items()
        for name, example in named.items()
    }


def component_and_name(file: Path) -> tuple[str, str]:
    """`solution-request.trailer.json` is `SolutionRequest`, `trailer`; without a name `sample`."""
    stem, _, name = file.name.removesuffix(".json").partition(".")
    return "".join(word.capitalize() for word in stem.split("-")), name or "sample"
