"""What Schemathesis found once, each by hand: it must stay found without a random number."""

import copy
import json
from typing import Any

import pytest
from asking import ask
from served import VEHICLE, Client

from service.app import create_app, document
from service.contract.examples import examples_folder
from service.settings import Settings

pytestmark = pytest.mark.anyio
APP = create_app(Settings())
ADJUSTER = {"kind": "wedge", "arm_length": "AAA"}
POINTER = "#/vehicle/axles/0/adjusters/0/arm_length"


def with_adjuster(body: Any) -> Any:
    copied = copy.deepcopy(body)
    copied["vehicle"]["axles"][0]["adjusters"] = [ADJUSTER]
    return copied


async def test_a_vehicle_is_not_stored_with_an_adjuster_that_cannot_be_read(
    client: Client,
) -> None:
    answer = await client.make("/v1/vehicles", with_adjuster(VEHICLE))
    assert answer.status_code == 422
    assert POINTER in [error["pointer"] for error in answer.json()["errors"]]


def test_no_blank_sheet_is_printed_of_an_adjuster_that_cannot_be_read() -> None:
    body = {"length_unit": "in", "vehicle": VEHICLE["vehicle"]}
    answer = ask(APP, "POST", "/v1/blank-worksheets", json.dumps(with_adjuster(body)).encode())
    assert answer.status == 422
    assert POINTER in answer.pointers


def test_an_adjuster_is_read_where_no_plan_is_asked_for() -> None:
    body = json.loads((examples_folder() / "solution-request.json").read_bytes())
    body = {**with_adjuster(body), "plan": False}
    answer = ask(APP, "POST", "/v1/solutions", json.dumps(body).encode())
    assert answer.status == 422
    assert POINTER in answer.pointers


@pytest.mark.parametrize("query", [b"vehicle_id=null", b"until=NULL", b"state=null", b"limit=null"])
def test_the_word_null_is_not_taken_for_a_parameter_left_out(query: bytes) -> None:
    answer = ask(APP, "GET", "/v1/visits", headers=[], query=query)
    assert answer.slug == "bad-query"
    assert answer.pointers == [f"?{query.decode().partition('=')[0]}"]


@pytest.mark.parametrize("query", [b"until=0", b"since=0.5", b"since=1700000000"])
def test_a_number_is_no_time(query: bytes) -> None:
    answer = ask(APP, "GET", "/v1/visits", headers=[], query=query)
    assert answer.slug == "bad-query"
    assert answer.pointers == [f"?{query.decode().partition('=')[0]}"]


def test_a_text_may_be_the_word_null() -> None:
    assert ask(APP, "GET", "/v1/visits", headers=[], query=b"vin=null").slug == "unauthorised"


async def test_a_visit_of_no_vehicle_is_a_404_that_the_document_tells_of(client: Client) -> None:
    nowhere = "01a21505-5e56-760f-b668-aa67fd2840c4"
    answer = await client.make("/v1/visits", {"vehicle_id": nowhere})
    assert answer.status_code == 404
    assert "404" in document()["paths"]["/v1/visits"]["post"]["responses"]


@pytest.mark.parametrize("path", ["/v1/vehicles", "/v1/visits"])
@pytest.mark.parametrize("name", ["unit_number", "vin"])
async def test_nothing_is_found_by_a_text_that_no_database_keeps(
    client: Client, path: str, name: str
) -> None:
    """PostgreSQL refuses U+0000 in a text, SQLite does not."""
    answer = await client.get(path, params={name: "a\0"})
    assert (answer.status_code, answer.json()["items"]) == (200, [])


async def test_no_target_set_has_a_name_that_no_database_keeps(client: Client) -> None:
    answer = await client.get("/v1/target-sets/a%00")
    assert answer.status_code == 404
