"""Every operation of stored work, tried with another shop's key: 404 or nothing, and no trace.

The walk knows how to call each operation. One that is added and not named here fails the first
test, so that none is ever forgotten.
"""

from inspect import signature
from typing import Any
from uuid import uuid4

import pytest
from litestar.handlers import HTTPRouteHandler
from served import ROUND, VEHICLE, Client, app_of, client_of, new_key

from service.api.access import admit
from service.api.stored import ROUTES as STORED_ROUTES
from service.app import EVERY_ROUTE, document
from service.store.database import Store
from service.store.keys import read_token
from service.store.takeout import lines_of

pytestmark = pytest.mark.anyio

Call = tuple[str, str, Any, dict[str, str]]
"""Method, path, body and headers; {vehicle} and the like stand for the first shop's ids."""

MATCH = {"If-Match": '"1"'}
SET = {
    "title": "Theirs (invented)",
    "rows": [{"quantity": "thrust", "unit": "deg", "nominal": "0", "upper": "0.1"}],
}
CARD = {
    "title": "Theirs (invented)",
    "rate_card": {
        "currency": "USD",
        "rounding": "half_up",
        "entries": [
            {
                "operation": "set_toe",
                "rate": {"kind": "flat", "price": {"amount": "65.00", "currency": "USD"}},
            }
        ],
    },
}
BILL = {"rate_card": "theirs"}
HOOK = {"url": "https://shop.example/hook"}

BY_ID: dict[str, Call] = {
    "get_vehicle": ("GET", "/v1/vehicles/{vehicle}", None, {}),
    "delete_vehicle": ("DELETE", "/v1/vehicles/{vehicle}", None, MATCH),
    "restore_vehicle": ("POST", "/v1/vehicles/{vehicle}/restorations", None, {}),
    "get_vehicle_history": ("GET", "/v1/vehicles/{vehicle}/history", None, {}),
    "create_visit": ("POST", "/v1/visits", {"vehicle_id": "{vehicle}"}, new_key()),
    "get_visit": ("GET", "/v1/visits/{visit}", None, {}),
    "delete_visit": ("DELETE", "/v1/visits/{visit}", None, MATCH),
    "restore_visit": ("POST", "/v1/visits/{visit}/restorations", None, {}),
    "close_visit": ("POST", "/v1/visits/{visit}/closings", None, MATCH),
    "reopen_visit": ("POST", "/v1/visits/{visit}/reopenings", {"reason": "x"}, MATCH),
    "create_round": ("POST", "/v1/visits/{visit}/rounds", ROUND, new_key()),
    "put_round": ("PUT", "/v1/visits/{visit}/rounds/{round}", ROUND, {}),
    "list_rounds": ("GET", "/v1/visits/{visit}/rounds", None, {}),
    "get_round": ("GET", "/v1/visits/{visit}/rounds/{round}", None, {}),
    "get_target_set": ("GET", "/v1/target-sets/theirs", None, {}),
    "get_target_set_version": ("GET", "/v1/target-sets/theirs/versions/1", None, {}),
    "withdraw_target_set": ("DELETE", "/v1/target-sets/theirs", None, MATCH),
    "restore_target_set": ("POST", "/v1/target-sets/theirs/restorations", None, {}),
    "get_rate_card": ("GET", "/v1/rate-cards/theirs", None, {}),
    "get_rate_card_version": ("GET", "/v1/rate-cards/theirs/versions/1", None, {}),
    "withdraw_rate_card": ("DELETE", "/v1/rate-cards/theirs", None, MATCH),
    "restore_rate_card": ("POST", "/v1/rate-cards/theirs/restorations", None, {}),
    "estimate_visit": ("POST", "/v1/visits/{visit}/estimates", BILL, {}),
    "bill_visit": ("POST", "/v1/visits/{visit}/line-items", BILL, new_key()),
    "list_visit_bills": ("GET", "/v1/visits/{visit}/line-items", None, {}),
    "get_visit_bill": ("GET", "/v1/visits/{visit}/line-items/{bill}", None, {}),
    "get_visit_plan_view": ("GET", "/v1/visits/{visit}/plan-view", None, {}),
    "get_visit_worksheet": ("GET", "/v1/visits/{visit}/worksheet", None, {}),
    "issue_visit_worksheet": ("POST", "/v1/visits/{visit}/worksheets", {}, new_key()),
    "list_visit_worksheets": ("GET", "/v1/visits/{visit}/worksheets", None, {}),
    "get_issued_worksheet": ("GET", "/v1/visits/{visit}/worksheets/{worksheet}", None, {}),
    "get_blank_worksheet": ("GET", "/v1/vehicles/{vehicle}/blank-worksheet", None, {}),
    "get_webhook_endpoint": ("GET", "/v1/webhook-endpoints/{endpoint}", None, {}),
    "put_webhook_endpoint": ("PUT", "/v1/webhook-endpoints/{endpoint}", HOOK, MATCH),
    "delete_webhook_endpoint": ("DELETE", "/v1/webhook-endpoints/{endpoint}", None, MATCH),
    "rotate_webhook_secret": ("POST", "/v1/webhook-endpoints/{endpoint}/rotations", {}, {}),
    "resend_webhook_delivery": ("POST", "/v1/webhook-deliveries/{delivery}/resends", None, {}),
    "get_key": ("GET", "/v1/keys/{key}", None, {}),
    "rotate_key": ("POST", "/v1/keys/{key}/rotations", {}, {}),
    "revoke_key": ("DELETE", "/v1/keys/{key}", None, {}),
}
"""Operations that name one thing: another shop's is not found."""

LISTS: dict[str, str] = {
    "list_vehicles": "/v1/vehicles?unit_number=4711",
    "list_visits": "/v1/visits?vehicle_id={vehicle}",
    "list_target_sets": "/v1/target-sets",
    "list_rate_cards": "/v1/rate-cards",
    "list_events": "/v1/events",
    "list_webhook_endpoints": "/v1/webhook-endpoints",
    "list_webhook_deliveries": "/v1/webhook-deliveries?state=pending",
    "list_keys": "/v1/keys",
    "export_shop": "/v1/exports",
}
"""Operations that show what the caller has: nothing of another shop is in it."""

OWN_ONLY: dict[str, Call] = {
    "create_vehicle": ("POST", "/v1/vehicles", VEHICLE, new_key()),
    "put_vehicle": ("PUT", "/v1/vehicles/{vehicle}", VEHICLE, {}),
    "put_visit": ("PUT", "/v1/visits/{visit}", {"vehicle_id": "{vehicle}"}, {}),
    "sync_work": (
        "POST",
        "/v1/syncs",
        {"items": [{"kind": "vehicle", "id": "{vehicle}", "content": VEHICLE}]},
        {},
    ),
    "put_rate_card": ("PUT", "/v1/rate-cards/theirs", CARD, {}),
    "put_target_set": ("PUT", "/v1/target-sets/theirs", SET, {}),
    "create_webhook_endpoint": ("POST", "/v1/webhook-endpoints", HOOK, new_key()),
    "create_key": ("POST", "/v1/keys", {"name": "x", "scopes": ["read"]}, {}),
}
"""Operations that make something of the caller's own, under an id that another shop has too."""


ASKS_NO_STORE = {
    "solve_batch",
    "price_work",
    "draw_vehicle",
    "print_worksheet",
    "print_blank_worksheet",
    "get_readiness",
    "get_openapi",
    "get_page_document",
}
"""Operations that are handed the request or the state, and use neither to reach the store."""


def name_of(handler: HTTPRouteHandler) -> str:
    return handler.fn.__name__


def reaches_the_store(handler: HTTPRouteHandler) -> bool:
    """Only through the request or the application's state does a handler find the store."""
    return bool({"request", "state", "scope", "socket"} & {*signature(handler.fn).parameters})


def test_the_walk_covers_every_operation_of_the_contract() -> None:
    """Whoever adds an operation must say here how another shop could try it.

    An operation that is handed neither the request nor the state cannot reach the store.
    """
    able = {name_of(handler) for handler in EVERY_ROUTE if reaches_the_store(handler)}
    walked = {*BY_ID, *LISTS, *OWN_ONLY}
    assert able - ASKS_NO_STORE == walked
    assert {name_of(handler) for handler in STORED_ROUTES} <= walked


def test_every_operation_of_the_document_is_a_route_that_the_walk_knows() -> None:
    told = {
        operation["operationId"]
        for path in document()["paths"].values()
        for method, operation in path.items()
        if method in ("get", "put", "post", "patch", "delete")
    }
    known = {name_of(handler).replace("_", "").lower() for handler in EVERY_ROUTE}
    assert {name.lower() for name in told} <= known


@pytest.mark.parametrize("handler", STORED_ROUTES, ids=name_of)
def test_every_operation_asks_for_a_key_with_a_scope(handler: HTTPRouteHandler) -> None:
    assert handler.opt["scope"] in ("read", "write", "admin")
    assert handler.before_request is admit
    reads = handler.http_methods == {"GET"} or name_of(handler) == "estimate_visit"
    assert handler.opt["scope"] in (("read", "admin") if reads else ("write", "admin"))


async def test_a_revoked_key_is_dead_for_every_operation(store: Store) -> None:
    """Each operation looks at the key with its work; none works without the look."""
    app = app_of(store)
    async with client_of(app, store) as owner:
        ids = await theirs(owner)
        await owner.delete(f"/v1/keys/{own_key(owner)}")
        before = await store.snapshot(owner.shop, lambda s: list(lines_of(s)))  # type: ignore[attr-defined]
        app.app.state["failed_attempts"].most = 1000
        lists: dict[str, Call] = {name: ("GET", path, None, {}) for name, path in LISTS.items()}
        for name, one in {**BY_ID, **lists, **OWN_ONLY}.items():
            assert (await call(owner, one, ids)).status_code == 401, name
        after = await store.snapshot(owner.shop, lambda s: list(lines_of(s)))  # type: ignore[attr-defined]
        assert after == before


def own_key(client: Client) -> str:
    token = read_token(client.headers["Authorization"].removeprefix("Bearer "))
    assert token is not None
    return str(token.key)


async def theirs(client: Client) -> dict[str, str]:
    """Ids of the first shop's things, one of each kind."""
    visit = await client.visit()
    round_ = await client.made(f"/v1/visits/{visit['id']}/rounds", ROUND)
    endpoint = await client.made("/v1/webhook-endpoints", HOOK)
    key = (await client.post("/v1/keys", json={"name": "k", "scopes": ["read"]})).json()
    assert (await client.put("/v1/target-sets/theirs", json=SET)).status_code == 201
    assert (await client.put("/v1/rate-cards/theirs", json=CARD)).status_code == 201
    await client.made(f"/v1/visits/{visit['id']}/rounds", {**ROUND, "label": "after"})
    bill = await client.made(f"/v1/visits/{visit['id']}/line-items", BILL)
    worksheet = await client.made(f"/v1/visits/{visit['id']}/worksheets", {})
    return {
        "bill": bill["id"],
        "worksheet": worksheet["id"],
        "vehicle": visit["vehicle_id"],
        "visit": visit["id"],
        "round": round_["id"],
        "endpoint": endpoint["endpoint"]["id"],
        "key": key["key"]["id"],
        "delivery": str(uuid4()),
    }


def filled(value: Any, ids: dict[str, str]) -> Any:
    """The value with the ids in place of their names in braces."""
    if isinstance(value, dict):
        return {name: filled(part, ids) for name, part in value.items()}
    if isinstance(value, list):
        return [filled(part, ids) for part in value]
    if isinstance(value, str):
        for name, id in ids.items():
            value = value.replace("{" + name + "}", id)
    return value


async def call(client: Client, one: Call, ids: dict[str, str]) -> Any:
    method, path, body, headers = filled(one[0], ids), filled(one[1], ids), one[2], one[3]
    content = None if body is None else filled(body, ids)
    return await client.request(method, path, json=content, headers=headers)


async def test_another_shops_things_are_not_found_and_leave_no_trace(store: Store) -> None:
    """The answer to another shop's id is the answer to an id that nobody has, to the letter."""
    app = app_of(store)
    async with client_of(app, store) as owner, client_of(app, store) as stranger:
        ids = await theirs(owner)
        before = (await owner.get("/v1/exports")).content
        nobody = {name: str(uuid4()) for name in ids}
        for name, one in BY_ID.items():
            answer = await call(stranger, one, ids)
            assert answer.status_code == 404, name
            other = await call(stranger, (one[0], one[1], one[2], one[3]), nobody)
            same = [{**a.json(), "instance": ""} for a in (answer, other)]
            assert same[0] == same[1], name
            assert not any(id in answer.text for id in ids.values()), name
        assert (await owner.get("/v1/exports")).content == before


async def test_a_strangers_lists_hold_nothing_of_the_shop(store: Store) -> None:
    app = app_of(store)
    async with client_of(app, store) as owner, client_of(app, store) as stranger:
        ids = await theirs(owner)
        for name, path in LISTS.items():
            answer = await stranger.get(filled(path, ids))
            assert answer.status_code == 200, name
            assert not any(id in answer.text for id in ids.values()), name


async def test_a_stranger_with_the_same_ids_makes_things_of_its_own(store: Store) -> None:
    app = app_of(store)
    async with client_of(app, store) as owner, client_of(app, store) as stranger:
        ids = await theirs(owner)
        before = (await owner.get("/v1/exports")).content
        for name, one in OWN_ONLY.items():
            assert (await call(stranger, one, ids)).status_code in (200, 201), name
        assert (await owner.get("/v1/exports")).content == before
