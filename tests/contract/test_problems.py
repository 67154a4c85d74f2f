"""The catalogue of problems and the problem on the wire (RFC 9457)."""

import re
from http import HTTPStatus

import msgspec
import pytest
from asking import ask

from service.app import create_app
from service.contract import problem_catalogue as kinds
from service.contract.problem_catalogue import KINDS, ProblemKind
from service.contract.problems import (
    MAX_ERRORS,
    FieldError,
    ProblemError,
    field_error,
    kind_of,
    pointer_to,
)
from service.settings import Settings

APP = create_app(Settings())

PROMISED = {
    "malformed-json": 400,
    "non-finite-number": 400,
    "duplicate-key": 400,
    "nested-too-deeply": 400,
    "bad-query": 400,
    "bad-header": 400,
    "not-http": 400,
    "idempotency-key-required": 400,
    "unauthorised": 401,
    "forbidden": 403,
    "not-found": 404,
    "method-not-allowed": 405,
    "not-acceptable": 406,
    "too-slow": 408,
    "conflict": 409,
    "idempotency-key-in-flight": 409,
    "precondition-failed": 412,
    "body-too-large": 413,
    "unsupported-media-type": 415,
    "contract-broken": 422,
    "unknown-field": 422,
    "unknown-reading-kind": 422,
    "axle-not-found": 422,
    "incomplete-pair": 422,
    "negative-tape-reading": 422,
    "baseline-missing": 422,
    "axles-out-of-order": 422,
    "axles-in-one-place": 422,
    "unreadable-text": 422,
    "target-limits-crossed": 422,
    "too-many-readings": 422,
    "reading-impossible": 422,
    "unknown-target-set": 422,
    "idempotency-key-reused": 422,
    "precondition-required": 428,
    "rate-limited": 429,
    "head-too-large": 431,
    "internal-error": 500,
    "unavailable": 503,
}


@pytest.mark.parametrize("slug", PROMISED)
def test_a_kind_once_promised_keeps_its_name_and_status(slug: str) -> None:
    assert KINDS[slug].status == PROMISED[slug]


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.slug)
def test_a_kind_is_complete(kind: ProblemKind) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", kind.slug)
    assert 400 <= HTTPStatus(kind.status) <= 599
    assert kind.title[0].isupper()
    assert not kind.title.endswith(".")
    assert len(kind.title) < 70
    assert kind.description.endswith(".")


def test_no_two_kinds_share_a_title() -> None:
    assert len({kind.title for kind in KINDS.values()}) == len(KINDS)


def test_every_kind_defined_is_in_the_catalogue() -> None:
    defined = [value for value in vars(kinds).values() if isinstance(value, ProblemKind)]
    assert len(defined) == len(KINDS)


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.slug)
def test_the_type_of_a_kind_is_the_address_of_its_page(kind: ProblemKind) -> None:
    page = ask(APP, "GET", kind.type, headers=[(b"accept", b"text/html")])
    assert page.status == 200
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert page.headers["content-security-policy"] == "default-src 'none'"
    text = page.body.decode()
    assert kind.title in text
    assert str(kind.status) in text


def test_a_page_escapes_what_it_shows() -> None:
    from service.api.problem_pages import _page

    page = _page(ProblemKind("x", 400, "<b>&", "\"'<script>")).decode()
    assert "<b>" not in page
    assert "<script>" not in page
    assert "&lt;b&gt;&amp;" in page


def test_the_index_links_to_every_page() -> None:
    page = ask(APP, "GET", "/problems", headers=[]).body.decode()
    assert all(f'href="{kind.type}"' in page for kind in KINDS.values())


def test_a_page_of_no_kind_is_a_404() -> None:
    assert ask(APP, "GET", "/problems/nonsense").slug == "not-found"


def test_an_error_without_a_kind_of_its_own_is_of_the_problems() -> None:
    problem = ProblemError(kinds.AXLE_NOT_FOUND, "No axle 4.", [FieldError("#/a", "No.", "Yes.")])
    assert problem.errors[0].type == "/problems/axle-not-found"


def test_an_error_with_a_kind_of_its_own_keeps_it() -> None:
    own = field_error(kinds.UNREADABLE_TEXT, "#/a", "No.", "Yes.")
    assert (
        ProblemError(kinds.CONTRACT_BROKEN, "x", [own]).errors[0].type.endswith("unreadable-text")
    )


def test_a_problem_of_broken_rules_takes_its_kind_from_the_first() -> None:
    first = field_error(kinds.INCOMPLETE_PAIR, "#/a", "One.", "Two.")
    second = field_error(kinds.UNKNOWN_FIELD, "#/b", "One.", "Two.")
    assert ProblemError.of_broken_rules([first, second]).kind is kinds.INCOMPLETE_PAIR
    assert ProblemError.of_broken_rules([second, first]).kind is kinds.UNKNOWN_FIELD


def test_a_problem_within_a_larger_body_points_there_in_its_errors_and_in_its_words() -> None:
    errors = [FieldError("#/a", "No.", "Yes."), FieldError("?b", "No.", "Yes.")]
    moved = ProblemError.of_broken_rules(errors).within("items", 0)
    assert [error.pointer for error in moved.errors] == ["#/items/0/a", "?b"]
    assert moved.detail == "2 rules are broken, first #/items/0/a: No."
    assert [error.pointer for error in errors] == ["#/a", "?b"]


def test_a_problem_in_its_own_words_keeps_them_within_a_larger_body() -> None:
    problem = ProblemError(kinds.AXLE_NOT_FOUND, "No axle 4.", [FieldError("#/a", "No.", "Yes.")])
    assert problem.within("request").detail == "No axle 4."


def test_an_error_of_an_unheard_of_kind_breaks_the_contract() -> None:
    assert kind_of(FieldError("#", "", "", "/problems/unheard-of")) is kinds.CONTRACT_BROKEN


def test_a_problem_lists_a_hundred_errors_and_says_of_how_many() -> None:
    errors = [FieldError(f"#/{number}", "No.", "Yes.") for number in range(150)]
    problem = ProblemError(kinds.CONTRACT_BROKEN, "Much.", errors).problem("urn:uuid:x")
    assert len(problem.errors) == MAX_ERRORS
    assert "100 of 150" in problem.detail


def test_a_problem_has_the_members_of_rfc_9457_in_their_order() -> None:
    problem = ProblemError(kinds.CONFLICT, "No.").problem("urn:uuid:x")
    written = msgspec.json.decode(msgspec.json.encode(problem))
    assert list(written) == ["type", "title", "status", "detail", "instance", "errors"]


# RFC 6901 section 6: the same document's pointers as URI fragments.
POINTERS = {
    (): "#",
    ("foo",): "#/foo",
    ("foo", 0): "#/foo/0",
    ("",): "#/",
    ("a/b",): "#/a~1b",
    ("c%d",): "#/c%25d",
    ("e^f",): "#/e%5Ef",
    ("g|h",): "#/g%7Ch",
    ("i\\j",): "#/i%5Cj",
    ('k"l',): "#/k%22l",
    (" ",): "#/%20",
    ("m~n",): "#/m~0n",
}


@pytest.mark.parametrize("steps", POINTERS)
def test_pointers_are_written_as_in_rfc_6901(steps: tuple[str | int, ...]) -> None:
    assert pointer_to(*steps) == POINTERS[steps]
