"""`/v1/target-sets`: the built-in sets as an integrator gets and sends them back."""

import asyncio

import httpx
import msgspec
import pytest

from service.app import create_app
from service.contract.intake_targets import target_of
from service.contract.solution import InlineTargets
from service.geometry.targets import target_set, target_sets

BUILT_IN = ["common-practice", "truck-published", "trailer-published"]


def get(path: str) -> httpx.Response:
    async def answer() -> httpx.Response:
        transport = httpx.ASGITransport(app=create_app())
        async with httpx.AsyncClient(transport=transport, base_url="http://test") as client:
            return await client.get(path)

    return asyncio.run(answer())


def test_the_list_names_every_built_in_set_and_leaves_out_its_rows() -> None:
    answer = get("/v1/target-sets")
    assert answer.status_code == 200
    items = answer.json()["items"]
    assert [item["id"] for item in items] == BUILT_IN
    for item in items:
        assert item["built_in"] is True
        assert item["version"] >= 1
        assert item["title"]
        assert item["note"]
        assert "rows" not in item


@pytest.mark.parametrize("name", BUILT_IN)
def test_a_set_is_answered_with_every_row_as_its_source_prints_it(name: str) -> None:
    answer = get(f"/v1/target-sets/{name}")
    assert answer.status_code == 200
    body = answer.json()
    assert body["id"] == name
    assert body["decision_rule"] == target_set(name).decision_rule
    shown = [
        (row["quantity"], row["unit"], row["nominal"], row["lower"], row["upper"], row["source"])
        for row in body["rows"]
    ]
    assert shown == [row.printed[:6] for row in target_set(name).rows]


@pytest.mark.parametrize("name", BUILT_IN)
def test_the_rows_answered_decode_unchanged_as_the_inline_targets_of_a_request(name: str) -> None:
    rows = get(f"/v1/target-sets/{name}").json()["rows"]
    sent = msgspec.json.encode({"rows": rows})
    decoded = msgspec.json.decode(sent, type=InlineTargets, strict=True)
    assert msgspec.to_builtins(decoded.rows) == rows


@pytest.mark.parametrize("name", BUILT_IN)
def test_the_rows_answered_and_sent_back_judge_by_the_very_same_limits(name: str) -> None:
    rows = get(f"/v1/target-sets/{name}").json()["rows"]
    decoded = msgspec.json.decode(msgspec.json.encode({"rows": rows}), type=InlineTargets)
    for wire, own in zip(decoded.rows, target_set(name).rows, strict=True):
        read = target_of(wire)
        assert (read.quantity, read.dimension) == (own.quantity, own.dimension)
        assert (read.roles, read.axles, read.source) == (own.roles, own.axles, own.source)
        assert read[2:5] == pytest.approx(own[2:5], rel=1e-15, abs=0.0)


def test_a_set_nobody_knows_is_not_found_and_the_answer_names_those_there_are() -> None:
    answer = get("/v1/target-sets/Truck-Published")
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert body["type"] == "/problems/not-found"
    (error,) = body["errors"]
    assert error["pointer"] == "{id}"
    for one in target_sets():
        assert one.id in error["hint"]


def test_an_id_longer_than_any_is_not_found_either() -> None:
    answer = get(f"/v1/target-sets/{'x' * 500}")
    assert answer.status_code == 404
    assert len(answer.content) < 2000


def test_a_query_that_means_nothing_here_is_refused() -> None:
    answer = get("/v1/target-sets?role=drive")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["pointer"] == "?role"
