"""Runs of Schemathesis's engine over the served contract, and what came of them."""

import copy
import tomllib
from collections import Counter
from collections.abc import Collection
from pathlib import Path
from typing import Any, NamedTuple
from uuid import uuid4

import msgspec
import schemathesis
import schemathesis.engine
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events
from walked import OPERATIONS, shown

CONFIGURATION = Path(__file__).with_name("schemathesis.toml")
TWO_SHOPS = {
    "path": str(Path(__file__).with_name("shops.json")),
    "user": "shop",
    "peers": ["shop", "other shop"],
}
"""All is asked as the one shop; the other is refused what the one has made and reads."""
PHASES = ("examples", "coverage", "fuzzing", "stateful")
CREATIONS = [
    "createVehicle",
    "putVehicle",
    "createRound",
    "putRound",
    "putRateCard",
    "putTargetSet",
]
SAMPLES = {" ".join(OPERATIONS[name][:2]): shown(name) for name in CREATIONS}
"""Bodies that are sent on the way along links: few of the generated ones are vehicles and readings
that make sense, which no schema can say, and nothing would come of the rest."""


@schemathesis.hook
def before_call(_context: Any, case: Any, _kwargs: Any) -> None:
    """Make every valid creation one of its own; what a repeated key does is tested by hand."""
    if case.meta is None or not case.meta.generation.mode.is_positive:
        return
    if case.headers and "Idempotency-Key" in case.headers:
        case.headers["Idempotency-Key"] = uuid4().hex
    if case.meta.phase.name.value == "stateful" and case.operation.label in SAMPLES:
        case.body = copy.deepcopy(SAMPLES[case.operation.label])


@schemathesis.serializer("application/x-ndjson")
def as_one_line(_context: Any, value: Any) -> Any:
    """A stream of one line."""
    return {"data": value if isinstance(value, bytes) else msgspec.json.encode(value)}


class Fault(NamedTuple):
    """One objection of a check."""

    check: str
    operation: str
    text: str


class Outcome(NamedTuple):
    """What a run came to."""

    cases: Counter[str]
    """Cases by phase."""
    answers: Counter[tuple[str, int]]
    """Answers by operation and status."""
    links: Counter[tuple[str, int]]
    """Links that were followed by source and name, `POST /v1/vehicles OpenVisit`, and status."""
    faults: list[Fault]
    """Objections, and what kept the engine from asking."""

    def told(self) -> str:
        """The objections, as a person reads them."""
        return "\n".join(f"{fault.check}: {fault.operation}: {fault.text}" for fault in self.faults)


def prove(
    app: Any,
    phases: Collection[str],
    examples: int,
    paths: str = "",
    edges_elsewhere: Collection[str] = (),
    most_faults: int | None = None,
) -> Outcome:
    """Ask `app` for everything in its document, with `examples` of fuzzing an operation.

    `paths` is a pattern of those that are asked, if it is given; `edges_elsewhere` names
    operations that sit the coverage phase out; `most_faults` ends the run at so many.
    """
    said = tomllib.loads(CONFIGURATION.read_text(encoding="utf-8"))
    said["auth"] = {"wfc": TWO_SHOPS}
    if most_faults:
        said["max-failures"] = most_faults
    said["generation"]["max-examples"] = examples
    for phase in PHASES:
        said["phases"].setdefault(phase, {})["enabled"] = phase in phases
    for name in edges_elsewhere:
        out = {"include-operation-id": name, "phases": {"coverage": {"enabled": False}}}
        said["operations"].insert(0, out)
    if paths:
        said["operations"].append({"exclude-path-regex": paths, "enabled": False})
    config = SchemathesisConfig.from_dict(said)
    contract = schemathesis.openapi.from_asgi("/openapi.json", app, config=config)
    _follow_bodies(contract.raw_schema)
    outcome = Outcome(Counter(), Counter(), Counter(), [])
    for event in schemathesis.engine.from_schema(contract).execute():
        if isinstance(event, events.ScenarioFinished):
            _note(event, outcome)
        elif isinstance(event, events.NonFatalError):
            outcome.faults.append(Fault("error", event.label, str(event.value)))
        elif isinstance(event, events.FatalError):
            raise event.exception
    return outcome


def _follow_bodies(document: Any) -> None:
    """Hand on the bodies of links, which the document keeps where openapi-generator reads on."""
    for item in document["paths"].values():
        for operation in item.values():
            for answer in operation["responses"].values():
                for link in answer.get("links", {}).values():
                    if "x-request-body" in link:
                        link["requestBody"] = link.pop("x-request-body")


def _named(transition: str) -> str:
    """`POST /v1/vehicles -> [201] OpenVisit -> POST /v1/visits` by operation and link."""
    source, link, _ = transition.split(" -> ")
    return f"{source} {link.rpartition(' ')[2]}"


def _note(event: events.ScenarioFinished, outcome: Outcome) -> None:
    recorder = event.recorder
    outcome.cases[event.phase.value] += len(recorder.cases)
    for identity, interaction in recorder.interactions.items():
        if interaction.response is not None:
            node, status = recorder.cases[identity], interaction.response.status_code
            outcome.answers[node.value.operation.label, status] += 1
            if node.transition is not None and node.is_transition_applied:
                outcome.links[_named(node.transition.id), status] += 1
    for identity, checks in recorder.checks.items():
        for check in checks:
            if check.failure_info is not None:
                case = recorder.cases[identity].value
                text = f"{check.failure_info.failure.message}\n  {check.failure_info.code_sample}"
                outcome.faults.append(Fault(check.name, case.operation.label, text))
