"""`/v1/tyre-sizes`: the table, one size, and what is no size."""

import asyncio
from typing import Any

import httpx
import pytest

from service.app import create_app


def get(query: dict[str, Any] | None = None) -> httpx.Response:
    async def answer() -> httpx.Response:
        transport = httpx.ASGITransport(app=create_app())
        async with httpx.AsyncClient(transport=transport, base_url="http://test") as client:
            return await client.get("/v1/tyre-sizes", params=query)

    return asyncio.run(answer())


def test_the_table_says_of_every_size_where_its_diameter_comes_from() -> None:
    body = get().json()
    assert len(body["items"]) == 13
    by_size = {item["size"]: item for item in body["items"]}
    for item in by_size.values():
        assert item["basis"] == ("catalogue" if item["aspect_ratio"] is None else "formula")
        assert item["source"]
    assert {size for size, item in by_size.items() if item["basis"] == "catalogue"} == {
        "11R22.5",
        "11R24.5",
    }


def test_one_size_is_answered_in_millimetres_and_inches() -> None:
    # By hand: 22.5 x 25.4 + 2 x 295 x 0.75 = 1014.0 mm; 1014.0 / 25.4 = 39.921 in.
    (item,) = get({"size": "295/75R22.5"}).json()["items"]
    assert item["diameter_mm"] == 1014.0
    assert item["diameter_in"] == 39.921
    assert item["section_width_mm"] == 295.0
    assert item["section_width_in"] == 11.614
    assert item["rim_diameter_in"] == 22.5
    assert item["aspect_ratio"] == 75.0


def test_a_metric_size_outside_the_table_is_computed() -> None:
    # By hand: 19.5 x 25.4 + 2 x 225 x 0.70 = 810.3 mm.
    (item,) = get({"size": "225/70 r19.5"}).json()["items"]
    assert item["size"] == "225/70R19.5"
    assert item["diameter_mm"] == 810.3
    assert item["catalogue"] is None


@pytest.mark.parametrize("query", [None, {"size": "11R22.5"}])
def test_every_answer_warns_that_a_toe_needs_the_measured_span(query: dict[str, str]) -> None:
    warning = get(query).json()["warning"]
    assert "scribe lines" in warning
    assert "measured" in warning


@pytest.mark.parametrize("size", ["", "big", "12R22.5", "905/75R22.5", "9" * 39])
def test_what_cannot_be_looked_up_is_told_how_to_write_it(size: str) -> None:
    answer = get({"size": size})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert body["type"] == "/problems/unreadable-text"
    (error,) = body["errors"]
    assert error["pointer"] == "?size"
    assert error["hint"]


@pytest.mark.parametrize("query", [{"size": "9" * 400}, {"sise": "11R22.5"}])
def test_a_query_that_is_too_long_or_unknown_is_a_bad_query(query: dict[str, str]) -> None:
    answer = get(query)
    assert answer.status_code == 400
    assert answer.json()["type"] == "/problems/bad-query"
    assert len(answer.content) < 2000


def test_a_size_given_twice_is_a_bad_query() -> None:
    assert get({"size": ["11R22.5", "11R24.5"]}).status_code == 400
