"""A time that can be written but that has none in UTC is refused, not a fault of the service."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from served import Client
from walked import shown

from service.contract.bodies import reader_of
from service.contract.keys import KeyRequest, RotationRequest
from service.contract.problems import ProblemError
from service.contract.rounds import RoundRequest
from service.contract.texts import has_utc
from service.contract.visits import VisitContent

OUTSIDE = ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"]
FIELDS = {
    "createVisit": (VisitContent, "visited_at"),
    "createRound": (RoundRequest, "taken_at"),
    "createKey": (KeyRequest, "expires_at"),
    "rotateKey": (RotationRequest, "expires_at"),
}


@pytest.mark.parametrize("at", OUTSIDE)
@pytest.mark.parametrize("name", FIELDS)
def test_a_time_in_a_body_that_has_none_in_utc_breaks_the_contract(name: str, at: str) -> None:
    cls, field = FIELDS[name]
    body: dict[str, Any] = shown(name) | {field: at}
    with pytest.raises(ProblemError) as refused:
        reader_of(cls).read(json.dumps(body).encode())
    assert field in refused.value.errors[0].detail


def test_the_first_and_last_times_of_the_calendar_in_utc_are_taken() -> None:
    """Bounds of Python's calendar: `datetime.min` and `datetime.max`."""
    for at in (datetime.min, datetime.max):
        assert has_utc(at.replace(tzinfo=UTC))
    assert not has_utc(datetime.fromisoformat(OUTSIDE[0]))
    assert has_utc(datetime.fromisoformat(OUTSIDE[0]) + timedelta(hours=14))


@pytest.mark.anyio
@pytest.mark.parametrize("at", OUTSIDE)
async def test_a_time_in_the_query_that_has_none_in_utc_is_refused(client: Client, at: str) -> None:
    answer = await client.get("/v1/visits", params={"since": at})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "?since")
