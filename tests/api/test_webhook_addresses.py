"""Addresses of webhook endpoints: what is never called is refused when it is told."""

import asyncio
from typing import Any

import pytest
from served import Client, app_of, client_of

from service.api import outbound
from service.settings import Settings
from service.store.database import Store

pytestmark = pytest.mark.anyio

HOOK = {"url": "https://shop.example/hook"}
PATH = "/v1/webhook-endpoints"

NEVER_CALLED = {
    "http://shop.example/": "only https",
    "https://user:pw@shop.example/": "no plain host name",
    "https://@shop.example/": "no plain host name",
    "https:///shop.example/": "no plain host name",
    "https://shop..example/": "cannot be a name",
    "https://[::1%25lo]/": "cannot be a name",
    "https://shop%2Eexample/": "cannot be a name",
    "https://shop.example:65536/": "port cannot be read",
    "https://shop.example:port/": "port cannot be read",
    "https://[::1/hook": "cannot be read",
    "https://shop.example:0/": "port 0",
    "https://127.0.0.1/": "not at a public address",
    "https://10.1.2.3:8443/": "not at a public address",
    "https://169.254.169.254/latest/meta-data/": "not at a public address",
    "https://2130706433/": "not at a public address",
    "https://0x7f.1/": "not at a public address",
    "https://[::1]/": "not at a public address",
    "https://[::ffff:127.0.0.1]/": "not at a public address",
    "https://[fe80::1]/": "not at a public address",
}
EVEN_WHERE_PRIVATE_IS_ALLOWED = [
    "http://user@127.0.0.1/",
    "http://127.0.0.1:65536/",
]


def allowing_private(store: Store) -> Any:
    """The application as an operator runs it on a network of its own."""
    door = app_of(store)
    door.app.state["settings"] = Settings(webhooks_private=True)
    return door


@pytest.mark.parametrize(("url", "why"), NEVER_CALLED.items())
async def test_an_endpoint_is_neither_made_nor_moved_where_nothing_is_called(
    client: Client, url: str, why: str
) -> None:
    refused = await client.make(PATH, {"url": url})
    assert refused.status_code == 422
    [error] = refused.json()["errors"]
    assert (error["pointer"], error["type"]) == ("#/url", "/problems/contract-broken")
    assert why in error["detail"]
    assert error["hint"]
    made = (await client.made(PATH, HOOK))["endpoint"]
    one = f"{PATH}/{made['id']}"
    changed = await client.put(one, json={"url": url}, headers={"If-Match": '"1"'})
    assert (changed.status_code, changed.json()["errors"]) == (422, [error])
    assert (await client.get(one)).json() == made


@pytest.mark.parametrize(("url", "why"), NEVER_CALLED.items())
async def test_what_is_refused_when_told_is_refused_when_called(url: str, why: str) -> None:
    with pytest.raises(outbound.RefusedAddressError, match=why):
        await outbound.post(url, b"{}", {})


async def test_a_host_name_is_taken_without_a_look_up(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    async def lookup(*names: Any, **_: Any) -> list[Any]:
        asked.append(names)
        return []

    monkeypatch.setattr(asyncio.get_running_loop(), "getaddrinfo", lookup)
    await client.made(PATH, {"url": "https://no-such-name.example:8443/hook?x=1"})
    await client.made(PATH, {"url": "https://93.184.216.34/hook"})
    assert asked == []


@pytest.mark.parametrize("url", ["http://127.0.0.1:80/hook", "https://10.1.2.3/", "http://[::1]"])
async def test_where_the_operator_allows_it_private_addresses_are_taken(
    store: Store, url: str
) -> None:
    async with client_of(allowing_private(store), store) as client:
        made = await client.made(PATH, HOOK)
        one = f"{PATH}/{made['endpoint']['id']}"
        changed = await client.put(one, json={"url": url}, headers={"If-Match": '"1"'})
        assert changed.json()["url"] == url
        assert (await client.make(PATH, {"url": url})).status_code == 201


@pytest.mark.parametrize("url", EVEN_WHERE_PRIVATE_IS_ALLOWED)
async def test_what_can_never_be_called_is_refused_there_too(store: Store, url: str) -> None:
    async with client_of(allowing_private(store), store) as client:
        assert (await client.make(PATH, {"url": url})).status_code == 422
    with pytest.raises(outbound.RefusedAddressError):
        await outbound.post(url, b"{}", {}, allow_private=True)
