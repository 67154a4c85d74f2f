"""Refused query, path and header parameters are told in plain words: what came, what may stand."""

import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import pytest
from asking import Answer, ask

from service.app import create_app, document
from service.settings import Settings

APP = create_app(Settings())
TOKEN = b"Bearer axw_" + b".".join([b"A" * 22, b"A" * 22, b"A" * 43])
AUTHORISED = ((b"content-type", b"application/json"), (b"authorization", TOKEN))
ID = "0190f0c0-0000-7000-8000-000000000001"
LIBRARY_WORDS = re.compile(
    r"`(str|int|bool|float)`|\b(str|enum|regex|Expected|expected|got|NoneType|object of)\b|::"
)


def asked(path: str, query: str = "", method: str = "GET", **headers: str) -> Answer:
    sent = [(name.replace("_", "-").encode(), value.encode()) for name, value in headers.items()]
    body = b'{"vehicle_id": "%s"}' % ID.encode() if method == "POST" else b""
    return ask(APP, method, path, body, (*AUTHORISED, *sent), query.encode())


def wrong(schema: dict[str, Any]) -> list[str]:
    """Texts that a parameter with this schema does not take."""
    if "$ref" in schema or "enum" in schema or schema.get("format") in ("uuid", "date-time"):
        return ["zebra"]
    if schema["type"] == "boolean":
        return ["perhaps"]
    if schema["type"] == "integer":
        return ["abc", "", "1.5", "9" * 5000, str(int(schema["minimum"]) - 1)]
    return [""] * ("minLength" in schema) + ["x" * (schema["maxLength"] + 1)]


def every_wrong_query() -> Iterator[tuple[str, str, str, str]]:
    for path, operations in document()["paths"].items():
        address = path.replace("{number}", "1").replace("{id}", ID)
        parameters = operations.get("get", {}).get("parameters", [])
        queries = [one for one in parameters if one["in"] == "query"]
        for one in queries:
            others = [f"{o['name']}=1&" for o in queries if o.get("required") and o is not one]
            for text in wrong(one["schema"]):
                yield re.sub(r"\{.*?\}", ID, address), "".join(others), one["name"], text


CASES = sorted(set(every_wrong_query()))


def test_enough_of_the_document_is_walked() -> None:
    assert len(CASES) > 60
    assert {"limit", "unit", "cursor", "recompute", "since", "share"} <= {
        name for _, _, name, _ in CASES
    }


@pytest.mark.parametrize(("path", "others", "name", "text"), CASES, ids=lambda text: text[:40])
def test_no_query_is_refused_in_the_words_of_a_library(
    path: str, others: str, name: str, text: str
) -> None:
    answer = asked(path, f"{others}{name}={quote(text)}")
    if answer.slug in ("unreadable-text", "baseline-missing"):
        return  # a reading in text: it has the words of the body's
    assert answer.slug == "bad-query"
    found = [error for error in answer.json["errors"] if error["pointer"] == f"?{name}"]
    assert len(found) == 1
    told = f"{answer.json['detail']} {found[0]['detail']} {found[0]['hint']}"
    assert LIBRARY_WORDS.search(told) is None
    assert len(told) < 500
    assert text[:20] in found[0]["detail"] or "is no date and time" in found[0]["detail"]


@pytest.mark.parametrize(
    ("path", "query", "detail", "hint"),
    [
        ("conversions/toe", "value=", "The text is empty.", "Write 1 to 40 characters, such as"),
        ("conversions/toe", "value=" + "1" * 99, '..." has 99 characters.', "at most 40"),
        (
            "conversions/toe",
            "value=1/16&unit=yd",
            '"yd" is none of the values that there are.',
            "Use one of in, mm, cm.",
        ),
        ("visits", "state=opn", '"opn" is none', "Did you mean open? Use one of open, closed."),
        ("vehicles", "limit=abc", '"abc" is not a whole number.', "a whole number of 1 to 200."),
        ("vehicles", "limit=0", "0 is not at least 1.", "a whole number of 1 to 200."),
        ("vehicles", "limit=201", "201 is not at most 200.", "a whole number of 1 to 200."),
        ("vehicles", f"limit=1{'0' * 4999}", "1000000000000000000000000000000000000...", "200"),
        ("visits", "vehicle_id=7", '"7" is not a UUID', "Write a UUID in its 36 characters."),
        (
            "visits",
            "since=2020-13-01T00:00:00Z",
            '"2020-13-01T00:00:00Z" is not a date and time with its offset',
            "such as 2025-03-01T14:30:00Z",
        ),
        (
            f"visits/{ID}/rounds/{ID}",
            "recompute=maybe",
            '"maybe" is not true or false.',
            "Write true or false.",
        ),
        ("rate-cards/X_y", "", '"X_y" is not allowed.', "small letters, digits and hyphens"),
        (f"rate-cards/{'x' * 65}", "", "has 65 characters.", "at most 64"),
        ("rate-cards/x/versions/0", "", "0 is not at least 1.", "a whole number of 1 to"),
    ],
    ids=lambda text: text[:30],
)
def test_a_refusal_says_what_came_and_how_to_write_it(
    path: str, query: str, detail: str, hint: str
) -> None:
    answer = asked(f"/v1/{path}", query)
    error = answer.json["errors"][0]
    assert detail in error["detail"]
    assert hint in error["hint"]
    assert answer.json["detail"] == f"{error['pointer']}: {error['detail']}"


@pytest.mark.parametrize(
    ("text", "detail"), [("x" * 300, '..." has 300 characters.'), ("", "The text is empty.")]
)
def test_a_header_is_named_with_one_colon(text: str, detail: str) -> None:
    answer = asked("/v1/visits", method="POST", idempotency_key=text)
    assert answer.slug == "bad-header"
    [error] = answer.json["errors"]
    assert error["pointer"] == "Idempotency-Key:"
    assert error["detail"].endswith(detail)
    assert answer.json["detail"] == f"Idempotency-Key: {error['detail']}"
    assert "255 characters" in error["hint"]
