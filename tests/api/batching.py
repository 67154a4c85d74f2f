"""What tests of batches send, and how."""

import json
from pathlib import Path
from typing import Any

from asking import JSON_HEADERS, Answer, ask

from service.app import create_app
from service.contract.batch_reader import NDJSON

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
SAMPLE: dict[str, Any] = json.loads((EXAMPLES / "solution-request.json").read_text("utf-8"))
TANDEM: dict[str, Any] = json.loads(
    (EXAMPLES / "solution-request.tandem-out-of-line.json").read_text("utf-8")
)
PATH = "/v1/solutions/batch"
LINES = ((b"content-type", NDJSON.encode()),)
APP = create_app()


def solve(body: bytes) -> Answer:
    return ask(APP, "POST", "/v1/solutions", body)


def batch(items: list[Any], headers: Any = JSON_HEADERS) -> Answer:
    """Send a batch as one JSON body."""
    return ask(APP, "POST", PATH, json.dumps({"items": items}).encode(), headers)


def stream(*parts: bytes, accept: bytes = b"*/*") -> list[dict[str, Any]]:
    """Send lines in parts and read the lines that come back."""
    answer = ask(APP, "POST", PATH, list(parts), (*LINES, (b"accept", accept)))
    assert answer.status == 200, answer.body
    assert answer.headers["content-type"] == NDJSON
    assert answer.body.endswith(b"\n")
    return [json.loads(line) for line in answer.body.splitlines()]


def slug(item: dict[str, Any]) -> str | None:
    """Kind of an item's problem, None for a solution."""
    assert (item["solution"] is None) != (item["problem"] is None)
    return item["problem"] and item["problem"]["type"].removeprefix("/problems/")
