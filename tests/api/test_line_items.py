"""`POST /v1/line-items` over the wire; vehicles, shops and prices are invented."""

import copy
import csv
import io
import json
import re
from typing import Any

import pytest
from asking import JSON_HEADERS, Answer, ask

from service.api.line_items import price_work
from service.api.solutions import solve_vehicle
from service.app import create_app
from service.contract import line_items, rate_cards
from service.contract.line_items import LineItemsAnswer, LineItemsRequest
from service.contract.schemas import component_schemas
from service.contract.solution import PlanAction
from service.locale.catalogue import DOMAIN, FOLDER
from service.pricing.money import ROUNDINGS
from service.pricing.operations import OPERATIONS, PLAN_ACTIONS
from service.settings import Settings
from service.shipped import shipped

APP = create_app(Settings(), routes=[price_work, solve_vehicle])


def example(name: str) -> Any:
    return json.loads(shipped(f"openapi/examples/{name}.json").read_text("utf-8"))


REQUEST = example("line-items-request")
ESTIMATE = example("line-items-request.estimate")
SOLUTION = example("solution-request.tandem-out-of-line")


def post(body: Any, *headers: tuple[bytes, bytes], path: str = "/v1/line-items") -> Answer:
    return ask(APP, "POST", path, json.dumps(body).encode(), (*JSON_HEADERS, *headers))


def priced(body: Any) -> Any:
    answer = post(body)
    assert answer.status == 200, answer.body
    return answer.json


def changed(change: Any, body: Any = REQUEST) -> Any:
    """The request with something changed in it."""
    one = copy.deepcopy(body)
    change(one)
    return one


def refused(change: Any, body: Any = REQUEST) -> tuple[str, list[str]]:
    """Kind of problem and places of what is wrong with a changed request."""
    answer = post(changed(change, body))
    assert answer.status == 422, answer.body
    assert all(error["detail"] and error["hint"] for error in answer.json["errors"])
    return answer.slug, answer.pointers


def test_the_example_is_answered_as_the_contract_shows() -> None:
    assert priced(REQUEST) == example("line-items-answer")


@pytest.mark.parametrize(
    ("sent", "language", "word", "value"),
    [
        ("fr-CA, en;q=0.3", "fr", "essieu 3", "0.30° à droite"),
        ("es", "es", "eje 3", "0.30° a la derecha"),
        ("de", "en", "axle 3", "0.30° right"),
    ],
)
def test_lines_and_their_evidence_are_in_the_language_of_the_reader(
    sent: str, language: str, word: str, value: str
) -> None:
    answer = post(ESTIMATE, (b"accept-language", sent.encode()))
    assert answer.headers["content-language"] == answer.json["language"] == language
    [aimed] = [line for line in answer.json["lines"] if line["operation"] == "aim_axle"]
    assert aimed["text"].endswith(word)
    assert value in [item["before"] for item in aimed["evidence"]]
    english = priced(ESTIMATE)
    assert [line["amount"] for line in answer.json["lines"]] == [
        line["amount"] for line in english["lines"]
    ]


def test_a_value_that_no_solution_has_is_written_as_it_was_sent() -> None:
    def odd(body: Any) -> None:
        for finding in body["before"]["findings"]:
            finding["estimate"] = {"value": 1e300, "unit": "deg", "text": ""}

    lines = priced(changed(odd, ESTIMATE))["lines"]
    assert {item["before"] for line in lines for item in line["evidence"]} == {"1e+300 deg"}


def test_an_estimate_has_no_values_after_the_work_and_no_comparison() -> None:
    answer = priced(ESTIMATE)
    assert answer["stage"] == "estimate"
    assert answer["comparison"] is None
    proofs = [item for line in answer["lines"] for item in line["evidence"]]
    assert proofs
    assert all(item["before"] and item["after"] is None for item in proofs)


def test_a_whole_solution_can_be_pasted_as_it_was_answered() -> None:
    """The shop system sends back what it got, and once more after the work."""
    worked = copy.deepcopy(SOLUTION)
    worked["readings"][1].update(left="3 5/8", right="3 5/8")
    worked["readings"][5]["toe"] = "1/16"
    before, after = (post(one, path="/v1/solutions").json for one in (SOLUTION, worked))
    body = {"rate_card": REQUEST["rate_card"], "date": "2026-03-02", "before": before}
    estimate, final = priced(body), priced({**body, "after": after})
    assert [line["operation"] for line in final["lines"] if line["kind"] == "work"] == [
        "measure",
        "aim_axle",
        "set_toe",
        "remeasure",
    ]
    assert estimate["total"] == final["total"] == final["comparison"]["estimate"]
    assert final["comparison"]["changes"] == []


def test_a_solution_without_texts_still_gives_evidence_in_words() -> None:
    def wordless(body: Any) -> None:
        for finding in body["before"]["findings"]:
            finding["estimate"]["text"] = ""

    lines = priced(changed(wordless, ESTIMATE))["lines"]
    assert lines[1]["evidence"][0]["before"] == "0.30° right"


def test_a_step_that_moves_both_ends_is_of_no_side_and_one_that_moves_one_end_is() -> None:
    def one_end(body: Any) -> None:
        body["before"]["plan"][0].update(side="right", ends="right_end")

    assert priced(ESTIMATE)["lines"][1]["positions"] == [
        {"axle": 3, "side": None, "axle_location": 0x20}
    ]
    assert priced(changed(one_end, ESTIMATE))["lines"][1]["positions"] == [
        {"axle": 3, "side": "right", "axle_location": 0x21}
    ]


# What is on the wire is what pricing knows: a name more or less on one side fails here.


def test_every_name_on_the_wire_is_one_that_pricing_knows() -> None:
    assert [one.value for one in rate_cards.WorkOperation] == list(OPERATIONS)
    assert {one.value for one in rate_cards.RoundingMode} == set(ROUNDINGS)
    assert {one.value for one in PlanAction} == set(PLAN_ACTIONS)
    reasons = {"free": line_items.FreeReason, "unbilled": line_items.UnbilledReason}
    source = FOLDER / "en" / "LC_MESSAGES" / f"{DOMAIN}.po"
    messages = re.findall(r'^msgid "(.+)"$', source.read_text("utf-8"), re.MULTILINE)
    for prefix, values in reasons.items():
        known = {name.partition(".")[2] for name in messages if name.startswith(f"{prefix}.")}
        assert {one.value for one in values} == known - {"what"}


def test_every_operation_is_explained_in_the_contract() -> None:
    told = component_schemas([LineItemsRequest])["WorkOperation"]["description"]
    assert all(f"`{name}`:" in told for name in OPERATIONS)


def test_money_is_text_in_the_contract_and_no_number_anywhere() -> None:
    schemas = component_schemas([LineItemsRequest, LineItemsAnswer])
    numbers = {
        (name, field)
        for name, schema in schemas.items()
        for field, described in schema.get("properties", {}).items()
        if "number" in json.dumps(described.get("type", ""))
    }
    assert numbers == {("SolvedEstimate", "value")}
    assert '"decimal"' not in json.dumps(schemas)
    for name in ("Price", "Money"):
        assert re.fullmatch(schemas[name]["properties"]["amount"]["pattern"], "140.00")


# Refusals.


@pytest.mark.parametrize(
    "amount", [140, 140.0, "1e2", "NaN", "-1", "+1", "1,000", " 1", "1.00000", "", "1\n", None]
)
def test_an_amount_is_a_plain_decimal_in_text(amount: Any) -> None:
    def change(body: Any) -> None:
        body["rate_card"]["labour_rate"]["amount"] = amount

    assert refused(change) == ("contract-broken", ["#/rate_card/labour_rate/amount"])


def test_all_faults_of_a_rate_card_are_named_at_once() -> None:
    def change(body: Any) -> None:
        card = body["rate_card"]
        card["labour_rate"] = None
        card["entries"][0]["rate"]["price"]["amount"] = "95.001"
        card["entries"][3]["rate"]["price"]["currency"] = "CAD"
        card["entries"][4]["operation"] = "measure"
        card["entries"][5]["rate"]["step"] = "0"
        card["supplies"]["cap"]["currency"] = "ZZZ"

    assert refused(change) == (
        "rate-card-unusable",
        [
            "#/rate_card/entries/0/rate/price/amount",
            "#/rate_card/supplies/cap/currency",
            "#/rate_card/entries/1/rate/labour_rate",
            "#/rate_card/entries/2/rate/labour_rate",
            "#/rate_card/entries/3/rate/price/currency",
            "#/rate_card/entries/4/operation",
            "#/rate_card/entries/5/rate/step",
        ],
    )


@pytest.mark.parametrize("code", ["ZZZ", "XXX", "XAU"])
def test_a_card_in_no_currency_is_refused_at_its_currency(code: str) -> None:
    def change(body: Any) -> None:
        body["rate_card"]["currency"] = code

    assert refused(change) == ("rate-card-unusable", ["#/rate_card/currency"])


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda body: body.update(date="2027-01-01"), "#/date"),
        (lambda body: body.update(date=None), "#/date"),
        (lambda body: body["waivers"][0].update(axle=1), "#/waivers/0/axle"),
        (
            lambda body: body["other_work"][0].update(operation="set_toe"),
            "#/other_work/0/operation",
        ),
        (
            lambda body: body["other_work"].append({"operation": "callout"}),
            "#/other_work/1/operation",
        ),
        (
            lambda body: body["before"]["plan"][0]["because"].append("thrust-9"),
            "#/before/plan/0/because/2",
        ),
        (lambda body: body["before"]["plan"][0].update(axle=None), "#/before/plan/0/axle"),
        (
            lambda body: body["before"]["findings"].append(body["before"]["findings"][0]),
            "#/before/findings/8/id",
        ),
    ],
)
def test_work_that_cannot_be_billed_as_sent_is_refused_at_its_place(
    change: Any, place: str
) -> None:
    assert refused(change) == ("work-not-billable", [place])


def test_a_discount_beside_the_card_is_in_the_cards_currency() -> None:
    def change(body: Any) -> None:
        price = {"amount": "5.00", "currency": "EUR"}
        body["discount"] = {"kind": "amount", "price": price}

    assert refused(change) == ("work-not-billable", ["#/discount/price/currency"])

    def finer(body: Any) -> None:
        price = {"amount": "5.001", "currency": "USD"}
        body["discount"] = {"kind": "amount", "price": price}

    assert refused(finer) == ("rate-card-unusable", ["#/discount/price/amount"])


def test_requests_are_closed_and_pasted_solutions_are_open() -> None:
    def misspelt(body: Any) -> None:
        body["rate_card"]["entries"][0]["tax_catgory"] = "labour"

    slug, places = refused(misspelt)
    assert (slug, places) == ("unknown-field", ["#/rate_card/entries/0/tax_catgory"])

    def richer(body: Any) -> None:
        body["before"]["engine"] = "any"
        body["before"]["findings"][0]["probability"] = 0.5

    assert priced(changed(richer)) == priced(REQUEST)


HOSTILE = [
    '=cmd|"/c calc"!A1',
    "<script>&amp;",
    "{what} %s {0}",
    "\u202eabc",
    "🚛",
    "-1+1",
    "x" * 64,
]


@pytest.mark.parametrize("text", HOSTILE)
def test_the_shops_own_codes_come_back_untouched(text: str) -> None:
    def change(body: Any) -> None:
        for entry in body["rate_card"]["entries"]:
            entry.update(code=text, tax_category=text, text=text)

    for line in priced(changed(change))["lines"][:5]:
        assert (line["code"], line["tax_category"]) == (text, text)
        assert line["text"].startswith(text)


# The table.


def test_lines_come_as_a_table_where_that_is_asked_for() -> None:
    answer = post(REQUEST, (b"accept", b"text/csv"))
    assert answer.status == 200
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.body.decode(), newline="")))
    lines = priced(REQUEST)["lines"]
    assert [row["amount"] for row in rows[:-1]] == [line["amount"]["amount"] for line in lines]
    assert rows[-1]["amount"] == priced(REQUEST)["total"]["amount"]


@pytest.mark.parametrize("text", HOSTILE)
def test_no_cell_of_the_table_is_a_formula(text: str) -> None:
    def change(body: Any) -> None:
        for entry in body["rate_card"]["entries"]:
            entry.update(code=text, text=text)

    answer = post(changed(change), (b"accept", b"text/csv, application/json;q=0.5"))
    for row in csv.DictReader(io.StringIO(answer.body.decode(), newline="")):
        assert not row["code"].startswith(("=", "+", "-", "@"))
        assert not row["text"].startswith(("=", "+", "-", "@"))


@pytest.mark.parametrize("accept", [b"*/*", b"application/json", b"text/csv;q=0.1, */*"])
def test_lines_come_as_json_otherwise(accept: bytes) -> None:
    assert post(REQUEST, (b"accept", accept)).headers["content-type"] == "application/json"


def test_a_media_type_that_is_neither_is_refused() -> None:
    assert post(REQUEST, (b"accept", b"application/pdf")).slug == "not-acceptable"
