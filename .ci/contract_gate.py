"""Hold the OpenAPI document to the standard, to the house rules and to what was released before.

    .venv/bin/python .ci/contract_gate.py [--document FILE] [--released FOLDER] [--only STEP ...]
    .venv/bin/python .ci/contract_gate.py --release     keep the document as a released one

Steps: `valid` (openapi-spec-validator), `redocly` and `spectral` (lint), `compatible` (no breaking
change against the newest released document). All run; the exit code is 1 when any of them objects,
2 when one cannot run. The Node tools come from .ci/node/package-lock.json and are fetched by npm
when they are not there yet.
"""

import argparse
import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from openapi_spec_validator import OpenAPIV31SpecValidator
from packaging.version import Version

ROOT = Path(__file__).resolve().parent.parent
NODE = ROOT / ".ci" / "node"
METHODS = ("get", "put", "post", "delete", "options", "head", "patch", "trace")
Json = dict[str, Any]
Finding = tuple[str, str, str]
"""Rule, JSON pointer and message of one objection."""


class CannotRunError(Exception):
    """A step lacks what it needs; the text says what to do."""


def node_tool(name: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run one of the pinned Node tools, with telemetry and update notices off."""
    fetch_node_tools()
    quiet = {"REDOCLY_TELEMETRY": "off", "REDOCLY_SUPPRESS_UPDATE_NOTICE": "true", "NO_COLOR": "1"}
    # The rules lie beside the document, so Node would not look for their packages in .ci/node.
    found = {"NODE_PATH": str(NODE / "node_modules")}
    return subprocess.run(
        [str(NODE / "node_modules" / ".bin" / name), *arguments],
        cwd=ROOT,
        env={**os.environ, **quiet, **found},
        capture_output=True,
        text=True,
        check=False,
    )


def fetch_node_tools() -> None:
    """Install exactly what package-lock.json pins, once for each state of that file."""
    with (NODE / "package-lock.json").open("rb") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # tests in several processes may ask at once
        _fetch(hashlib.sha256(lock.read()).hexdigest())


def _fetch(state: str) -> None:
    stamp = NODE / "node_modules" / ".axlewright-stamp"
    if stamp.exists() and stamp.read_text(encoding="utf-8") == state:
        return
    npm = shutil.which("npm")
    if npm is None or shutil.which("node") is None:
        raise CannotRunError("node and npm are needed (Node 20.19 or newer) and were not found")
    done = subprocess.run([npm, "ci"], cwd=NODE, capture_output=True, text=True, check=False)
    if done.returncode:
        raise CannotRunError(f"npm ci failed in {NODE}:\n{done.stdout}{done.stderr}")
    stamp.write_text(state, encoding="utf-8")


def valid(document: Path) -> list[Finding]:
    """Objections of the standard's own schema and semantics."""
    errors = OpenAPIV31SpecValidator(load(document)).iter_errors()
    return [("valid", error.json_path.replace("$", "#", 1), error.message) for error in errors]


def redocly(document: Path) -> list[Finding]:
    """Objections of openapi/redocly.yaml."""
    rules = str(ROOT / "openapi" / "redocly.yaml")
    done = node_tool("redocly", "lint", "--config", rules, "--format", "json", str(document))
    report = parse_report("redocly lint", done)
    return [
        (found["ruleId"], found["location"][0].get("pointer", "#"), found["message"])
        for found in report["problems"]
    ]


def spectral(document: Path) -> list[Finding]:
    """Objections of openapi/spectral.yaml."""
    rules = str(ROOT / "openapi" / "spectral.yaml")
    done = node_tool("spectral", "lint", "--quiet", "-r", rules, "-f", "json", str(document))
    report = parse_report("spectral lint", done)
    return [(found["code"], pointer_of(found["path"]), found["message"]) for found in report]


def pointer_of(path: Iterable[str | int]) -> str:
    """A path through the document as a JSON pointer."""
    return "".join(["#", *("/" + str(k).replace("~", "~0").replace("/", "~1") for k in path)])


def compatible(document: Path, released: Path) -> list[Finding]:
    """Breaking changes against the newest released document, less those accepted in review."""
    newest = newest_released(released)
    if newest is None:
        raise CannotRunError(
            f"{released} holds no released document to compare with; see --release"
        )
    done = node_tool("redocly", "diff", str(newest), str(document), "--format", "json")
    changes = parse_report("redocly diff", done)["changes"]
    found = [*rated_major(changes), *rated_too_low(changes)]
    found += security_changes(load(newest), load(document))
    return after_review(found, released / "accepted-changes.json")


def rated_major(changes: Iterable[Json]) -> list[Finding]:
    """What `redocly diff` itself calls a breaking change."""
    return [
        (verdict["ruleId"], verdict["location"]["pointer"], verdict["message"])
        for change in changes
        for verdict in change["verdicts"]
        if verdict["impact"] == "major"
    ]


def rated_too_low(changes: Iterable[Json]) -> list[Finding]:
    """Changes that `redocly diff` reports as a patch although clients break on them.

    A default that changes or goes away alters what an unchanged request means. An object that
    closes refuses what the same contract allowed before.
    """
    found: list[Finding] = []
    for change in changes:
        key = change.get("property")
        base, revision = (change.get(side, {}) for side in ("base", "revision"))
        where = revision.get("pointer") or base.get("pointer") or change["path"]
        if key == "default" and "value" in base:
            now = json.dumps(revision["value"]) if "value" in revision else "no default"
            text = f"The default changed from {json.dumps(base['value'])} to {now}."
            found.append(("default-changed", where, text))
        closes = key in ("additionalProperties", "unevaluatedProperties")
        if closes and revision.get("value", True) is not True:
            found.append(("object-closed", where, f"{key} was narrowed, which closes the object."))
    return found


def security_changes(old: Json, new: Json) -> list[Finding]:
    """Operations made private or public, or that refuse a kind of key they accepted."""
    before, after = operations(old), operations(new)
    found: list[Finding] = []
    for name in before.keys() & after.keys():
        was, now = (accepted_keys(*pair) for pair in ((old, before[name]), (new, after[name])))
        public_was, public_now = (not keys or frozenset() in keys for keys in (was, now))
        pointer = pointer_of(["paths", *name, "security"])
        if public_was and not public_now:
            found.append(("operation-made-private", pointer, "It was public and now needs a key."))
        elif public_now and not public_was:
            found.append(("operation-made-public", pointer, "It needed a key and now needs none."))
        elif now and not was <= now:
            found.append(("key-refused", pointer, "It refuses a kind of key that it accepted."))
    return sorted(found)


def operations(document: Json) -> dict[tuple[str, str], Json]:
    """Every operation by path and method."""
    return {
        (path, method): item[method]
        for path, item in document.get("paths", {}).items()
        for method in METHODS
        if method in item
    }


def accepted_keys(document: Json, operation: Json) -> frozenset[frozenset[tuple[str, str]]]:
    """Alternatives of an operation's security, its own or the document's; empty means public."""
    alternatives = operation.get("security", document.get("security", []))
    return frozenset(
        frozenset((scheme, scope) for scheme, scopes in each.items() for scope in (scopes or [""]))
        for each in alternatives
    )


def after_review(found: list[Finding], accepted: Path) -> list[Finding]:
    """Take out what was accepted with a reason; an unused acceptance is an objection."""
    listed: list[Json] = load(accepted) if accepted.exists() else []
    reviewed = {(entry["rule"], entry["pointer"]) for entry in listed if entry["reason"].strip()}
    stale = reviewed - {finding[:2] for finding in found}
    left = [finding for finding in found if finding[:2] not in reviewed]
    return left + [
        ("acceptance-unused", at, f"{rule} does not occur; delete it.") for rule, at in stale
    ]


def newest_released(folder: Path) -> Path | None:
    """The released document of the highest version; its file is named by it."""
    documents = [file for file in folder.glob("*.json") if file.stem[:1].isdigit()]
    return max(documents, key=lambda file: Version(file.stem), default=None)


def load(file: Path) -> Any:
    """A JSON file's content."""
    return json.loads(file.read_text(encoding="utf-8"))


def parse_report(tool: str, done: subprocess.CompletedProcess[str]) -> Any:
    """A tool's JSON report; anything else on its standard output means that it could not run."""
    try:
        return json.loads(done.stdout)
    except ValueError:
        text = f"{done.stdout}{done.stderr}".strip()
        raise CannotRunError(
            f"{tool} wrote no report (exit code {done.returncode}):\n{text}"
        ) from None


def release(document: Path, released: Path) -> int:
    """Copy the document into the folder of released ones, under its version; never over another."""
    target = released / f"{load(document)['info']['version']}.json"
    if target.exists() and target.read_bytes() != document.read_bytes():
        print(f"{target} is released already and differs; raise the version first", file=sys.stderr)
        return 1
    released.mkdir(exist_ok=True)
    shutil.copyfile(document, target)
    print(f"released as {target}")
    return 0


STEPS: dict[str, Callable[[Path, Path], list[Finding]]] = {
    "valid": lambda document, _: valid(document),
    "redocly": lambda document, _: redocly(document),
    "spectral": lambda document, _: spectral(document),
    "compatible": compatible,
}


def main(arguments: list[str]) -> int:
    """Run the steps asked for and print what each objects to."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--document", type=Path, default=ROOT / "openapi" / "openapi.json")
    parser.add_argument("--released", type=Path, default=ROOT / "openapi" / "released")
    parser.add_argument("--only", nargs="+", choices=STEPS, default=list(STEPS))
    parser.add_argument("--release", action="store_true")
    asked = parser.parse_args(arguments)
    document, released = asked.document.resolve(), asked.released.resolve()
    if asked.release:
        return release(document, released)
    worst = 0
    for name in asked.only:
        try:
            findings = STEPS[name](document, released)
        except CannotRunError as reason:
            print(f"{name}: cannot run: {reason}")
            worst = 2
            continue
        print(f"{name}: {len(findings) or 'no'} objection{'s' * (len(findings) != 1)}")
        for rule, pointer, message in findings:
            print(f"  {rule}  {pointer}\n    {message}")
        worst = max(worst, int(bool(findings)))
    return worst


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
