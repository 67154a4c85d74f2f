"""The served contract against Schemathesis: every check, every phase, every operation.

A plain run asks some thousands of times; `-m long` 50,000 times and more on each database. The
widened expectations stand in schemathesis.toml, each with its reason.
"""

import math
from typing import Any

import pytest
from contract.wire.proof import PHASES, Outcome, prove
from contract.wire.served_shop import WORDS, ServedShop

from service.api import solutions, storing, vehicles
from service.app import document
from service.contract import replies
from service.contract.asgi import Receive, Scope, Send
from service.contract.links import LINKS
from service.geometry import conversion

EXAMPLES, MANY_EXAMPLES = 4, 350
"""Cases of fuzzing for each operation, and runs from operation to operation; the many are 53,400
cases before the areas."""

AREAS = (
    "^/v1/(vehicles|visits)",
    "^/v1/keys",
    "^/v1/webhook",
    "^/v1/target-sets",
    "^/v1/rate-cards",
)
"""Paths whose links lead to each other: a run within them goes further than one over all."""

OPERATIONS = {
    f"{method.upper()} {path}"
    for path, item in document()["paths"].items()
    for method in item
    if method in ("get", "put", "post", "delete")
}

SAME_BODIES = (
    "printBlankWorksheet",
    "compareRounds",
    "drawVehicle",
    "printWorksheet",
    "solveBatch",
    "syncWork",
    "createRound",
    "putRound",
)
"""Operations whose bodies hold the vehicle and the readings that `solveVehicle` takes: a plain run
goes through all the edges of these once, there, and leaves 20,000 like cases to the long run."""


def without_faults(outcome: Outcome) -> None:
    assert outcome.faults == [], outcome.told()
    assert {label for label, _ in outcome.answers} == OPERATIONS
    assert set(outcome.cases) == set(PHASES)
    assert all(outcome.cases.values())


def test_every_operation_keeps_its_contract(sqlite_url: str) -> None:
    outcome = prove(ServedShop(sqlite_url), PHASES, EXAMPLES, edges_elsewhere=SAME_BODIES)
    without_faults(outcome)
    answered = {label for label, status in outcome.answers if status < 300}
    assert len(answered) > 0.8 * len(OPERATIONS), sorted(OPERATIONS - answered)


@pytest.mark.long
@pytest.mark.parametrize("database", ["sqlite_url", "migrated_postgres_url"])
def test_every_operation_keeps_its_contract_in_very_many_cases(
    database: str, request: pytest.FixtureRequest
) -> None:
    if "long" not in request.config.option.markexpr:
        pytest.skip("runs with -m long")
    shop = ServedShop(request.getfixturevalue(database))
    outcome = prove(shop, PHASES, MANY_EXAMPLES)
    print(database, dict(outcome.cases), shop.requests)
    without_faults(outcome)
    assert sum(outcome.cases.values()) >= 50_000
    for area in AREAS:
        within = prove(shop, ["stateful"], MANY_EXAMPLES, area)
        print(area, dict(within.cases), "links followed", len({link for link, _ in within.links}))
        assert within.faults == [], within.told()
        assert within.links


VEHICLES = r"^/v1/vehicles(/\{id\})?$"
VEHICLES_AND_VISITS = r"^/v1/(vehicles|visits)(/\{id\})?$"


def test_links_are_followed_with_the_bodies_that_they_carry(sqlite_url: str) -> None:
    outcome = prove(ServedShop(sqlite_url), ["stateful"], 40, VEHICLES_AND_VISITS)
    assert outcome.faults == [], outcome.told()
    carrying = {
        name for links in LINKS.values() for name, link in links.items() if "x-request-body" in link
    }
    followed = {source_and_name.rpartition(" ")[2] for source_and_name, _ in outcome.links}
    assert carrying <= followed
    # A visit of a vehicle that is not there would be a 404: the body came from the answer before.
    assert outcome.links["POST /v1/vehicles OpenVisit", 201]


def checks_that_object(app: Any, path: str) -> set[str]:
    """Checks that find fault with one path, by its examples and by fuzzing."""
    outcome = prove(app, ("examples", "fuzzing"), 20, f"^{path}$")
    assert outcome.cases["fuzzing"] >= 20
    return {fault.check for fault in outcome.faults}


def test_the_paths_that_faults_are_planted_in_are_sound(sqlite_url: str) -> None:
    app = ServedShop(sqlite_url)
    for path in ("/v1/conversions/length", "/v1/vehicles", "/v1/solutions"):
        assert checks_that_object(app, path) == set()


def test_a_planted_nan_on_the_way_out_is_found(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    numbers = conversion.convert_length(1.0)

    def nowhere(_metres: float) -> Any:
        return numbers._replace(**dict.fromkeys(numbers._fields, math.nan))

    monkeypatch.setattr(conversion, "convert_length", nowhere)
    monkeypatch.setattr(replies, "require_finite", lambda _answer: None)
    app = ServedShop(sqlite_url)
    assert "response_schema_conformance" in checks_that_object(app, "/v1/conversions/length")


def test_a_planted_loss_of_a_header_is_found(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = storing.answered

    def bare(content: Any, *, status: int = 200, revision: int | None = None, at: str = "") -> Any:
        answer = whole(content, status=status, revision=revision, at=at)
        return answer._replace(headers={k: v for k, v in answer.headers.items() if k != "ETag"})

    monkeypatch.setattr(vehicles, "answered", bare)
    app = ServedShop(sqlite_url)
    assert "response_headers_conformance" in checks_that_object(app, "/v1/vehicles")


def test_a_planted_crash_on_a_fourth_reading_is_found(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    solve = solutions.printed_answer

    def fall(request: Any) -> Any:
        return 1 / 0 if len(request.readings) > 3 else solve(request)

    monkeypatch.setattr(solutions, "printed_answer", fall)
    assert "not_a_server_error" in checks_that_object(ServedShop(sqlite_url), "/v1/solutions")


class OpenShop(ServedShop):
    """Whoever names a vehicle reads it, as if a statement forgot the shop; lists remember it."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer with the first shop's key what reads a vehicle."""
        if scope["type"] == "http" and scope["path"].startswith("/v1/vehicles/"):
            scope["headers"] = [(n, v.replace(*reversed(WORDS))) for n, v in scope["headers"]]
        await super().__call__(scope, receive, send)


def test_a_shop_that_reads_what_another_made_is_found(sqlite_url: str) -> None:
    outcome = prove(OpenShop(sqlite_url), ["stateful"], 40, VEHICLES, most_faults=1)
    assert {fault.check for fault in outcome.faults} == {"object_level_authorization"}
