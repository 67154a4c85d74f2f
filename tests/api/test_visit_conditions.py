"""A round that says nothing of conditions takes those that its visit states."""

import json
from typing import Any
from uuid import uuid4

import pytest
from served import READINGS, ROUND, VEHICLE, Client

from service.api.solutions import solution_json
from service.contract.bodies import reader_of
from service.contract.solution import SolutionRequest

pytestmark = pytest.mark.anyio

SOUND = {"rolled_straight": True, "stopped_gently": True, "wheels_on_ground": True}
JERKED = {**SOUND, "stopped_gently": False}
SILENT = "Not stated how the vehicle was brought to rest"
JSON = {"Content-Type": "application/json"}


def stating(conditions: Any, label: str = "before") -> dict[str, Any]:
    """A round whose request says this of conditions."""
    return {"label": label, "request": {**READINGS, "conditions": conditions}}


async def visit_stating(client: Client, conditions: Any) -> dict[str, Any]:
    vehicle = await client.made("/v1/vehicles", VEHICLE)
    said = {"vehicle_id": vehicle["id"], "conditions": conditions}
    visit: dict[str, Any] = await client.made("/v1/visits", said)
    return visit


async def changed(client: Client, visit: dict[str, Any], conditions: Any) -> None:
    said = {"vehicle_id": visit["vehicle_id"], "conditions": conditions}
    path, headers = f"/v1/visits/{visit['id']}", {"If-Match": f'"{visit["revision"]}"'}
    answer = await client.put(path, json=said, headers=headers)
    assert answer.status_code == 200, answer.text


def codes(solution: dict[str, Any]) -> set[str]:
    return {caution["code"] for caution in solution["cautions"]}


async def sheet_of(client: Client, visit: dict[str, Any]) -> str:
    path = f"/v1/visits/{visit['id']}/worksheet"
    answer = await client.get(path, headers={"Accept": "text/html"})
    assert answer.status_code == 200, answer.text
    return answer.text


async def test_a_round_is_solved_and_read_back_with_the_conditions_of_its_visit(
    client: Client,
) -> None:
    visit = await visit_stating(client, SOUND)
    made = await client.made(f"/v1/visits/{visit['id']}/rounds", ROUND)
    assert made["request"] == {**READINGS, "conditions": SOUND}
    assert "conditions-unsaid" not in codes(made["solution"])
    alone = reader_of(SolutionRequest).read(json.dumps(made["request"]).encode())
    assert made["solution"] == json.loads(solution_json(alone))
    read = (await client.get(f"/v1/visits/{visit['id']}/rounds/{made['id']}")).json()
    assert read == made


async def test_the_sheet_states_the_conditions_of_the_visit(client: Client) -> None:
    visit = await visit_stating(client, SOUND)
    for label in ("before", "after"):
        await client.made(f"/v1/visits/{visit['id']}/rounds", {**ROUND, "label": label})
    html = await sheet_of(client, visit)
    assert SILENT not in html
    assert "Not stated whether" not in html
    silent = await client.visit()
    await client.made(f"/v1/visits/{silent['id']}/rounds", ROUND)
    assert SILENT in await sheet_of(client, silent)


async def test_a_condition_that_the_visit_denies_is_inspected_first(client: Client) -> None:
    visit = await visit_stating(client, JERKED)
    made = await client.made(f"/v1/visits/{visit['id']}/rounds", ROUND)
    assert "condition-denied-stopped-gently" in codes(made["solution"])
    assert made["solution"]["plan"][0]["action"] == "inspect"


async def test_conditions_of_a_round_win_as_a_whole(client: Client) -> None:
    visit = await visit_stating(client, SOUND)
    own = {"rolled_straight": True}
    made = await client.made(f"/v1/visits/{visit['id']}/rounds", stating(own))
    assert made["request"]["conditions"] == own
    assert "conditions-unsaid" in codes(made["solution"])


@pytest.mark.parametrize("nothing", [None, {}, {"rolled_straight": None}])
async def test_conditions_that_say_nothing_are_those_of_the_visit(
    client: Client, nothing: Any
) -> None:
    visit = await visit_stating(client, SOUND)
    path = f"/v1/visits/{visit['id']}/rounds/{uuid4()}"
    for status in (201, 200):
        answer = await client.put(path, json=stating(nothing))
        assert (answer.status_code, answer.text.count('"conditions"')) == (status, 1)
        assert answer.json()["request"]["conditions"] == SOUND


@pytest.mark.parametrize("nothing", [None, {}])
async def test_a_visit_that_says_nothing_leaves_a_round_as_it_was_sent(
    client: Client, nothing: Any
) -> None:
    visit = await visit_stating(client, nothing)
    made = await client.made(f"/v1/visits/{visit['id']}/rounds", ROUND)
    assert made["request"] == READINGS
    assert "conditions-unsaid" in codes(made["solution"])


async def test_what_was_sent_follows_the_conditions_letter_by_letter(client: Client) -> None:
    visit = await visit_stating(client, SOUND)
    text = json.dumps(READINGS, indent=1)
    body = f'{{"label": "before", "request":  {text} }}'
    answer = await client.put(
        f"/v1/visits/{visit['id']}/rounds/{uuid4()}", content=body, headers=JSON
    )
    assert answer.status_code == 201
    said = json.dumps(SOUND, separators=(",", ":"))
    assert f'"request":{{"conditions":{said},{text[1:]}' in answer.text


async def test_a_repeated_round_is_one_whatever_became_of_its_visit(client: Client) -> None:
    visit = await visit_stating(client, SOUND)
    path = f"/v1/visits/{visit['id']}/rounds/{uuid4()}"
    first = await client.put(path, json=ROUND)
    assert first.status_code == 201
    await changed(client, visit, JERKED)
    for again in (ROUND, {**ROUND, "request": first.json()["request"]}):
        answer = await client.put(path, json=again)
        assert (answer.status_code, answer.json()) == (200, first.json())
    for other in (stating(JERKED), {**ROUND, "label": "after"}):
        assert (await client.put(path, json=other)).status_code == 409


async def test_a_round_with_conditions_of_its_own_is_not_one_without_them(client: Client) -> None:
    visit = await visit_stating(client, None)
    path = f"/v1/visits/{visit['id']}/rounds/{uuid4()}"
    assert (await client.put(path, json=stating(SOUND))).status_code == 201
    assert (await client.put(path, json=ROUND)).status_code == 409


async def test_a_recomputation_has_the_conditions_that_were_solved(client: Client) -> None:
    visit = await visit_stating(client, JERKED)
    made = await client.made(f"/v1/visits/{visit['id']}/rounds", ROUND)
    await changed(client, visit, SOUND)
    path = f"/v1/visits/{visit['id']}/rounds/{made['id']}?recompute=true"
    again = (await client.get(path)).json()["recomputation"]
    assert codes(again["solution"]) == codes(made["solution"])
    assert again["changes"] == []


async def test_a_round_of_a_sync_has_the_conditions_of_a_visit_of_the_same_sync(
    client: Client,
) -> None:
    vehicle, visit, taken = (str(uuid4()) for _ in range(3))
    said = {"vehicle_id": vehicle, "conditions": SOUND}
    items = [
        {"kind": "vehicle", "id": vehicle, "content": VEHICLE},
        {"kind": "visit", "id": visit, "content": said},
        {"kind": "round", "id": taken, "visit_id": visit, "content": ROUND},
    ]
    for status in (201, 200):
        answer = await client.post("/v1/syncs", json={"items": items})
        assert [result["status"] for result in answer.json()["items"]] == [status] * 3
    read = (await client.get(f"/v1/visits/{visit}/rounds/{taken}")).json()
    assert read["request"]["conditions"] == SOUND
    assert "conditions-unsaid" not in codes(read["solution"])


async def test_a_round_stored_before_its_visit_stated_anything_stays_as_it_is(
    client: Client,
) -> None:
    visit = await visit_stating(client, None)
    path = f"/v1/visits/{visit['id']}/rounds/{uuid4()}"
    first = await client.put(path, json=ROUND)
    await changed(client, visit, SOUND)
    assert (await client.get(path)).json() == first.json()
    again = await client.put(path, json=ROUND)
    assert (again.status_code, again.json()) == (200, first.json())
    assert SILENT in await sheet_of(client, visit)


async def test_a_round_with_a_whole_number_written_with_a_point_can_be_printed(
    client: Client,
) -> None:
    visit = await visit_stating(client, SOUND)
    pointed = {**ROUND, "request": {**READINGS, "fraction": 32.0}}
    made = await client.made(f"/v1/visits/{visit['id']}/rounds", pointed)
    assert "Axle 2" in await sheet_of(client, visit)
    path = f"/v1/visits/{visit['id']}/rounds/{made['id']}?recompute=true"
    assert (await client.get(path)).json()["recomputation"]["changes"] == []
