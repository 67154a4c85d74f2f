"""Sends what is owed to webhook endpoints: at least once, with growing pauses, then dead.

Each process of the service runs one sender, which looks every second which shops are owed
something; when nothing is, that is one query over small tables. A delivery is claimed by one
process at a time.
"""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta
from time import time
from uuid import UUID

import msgspec

from service.api import outbound
from service.api.events import shown
from service.api.metrics import count
from service.api.tracing import begun_for
from service.contract.webhook_signatures import signed_headers
from service.store import events, webhook_secrets, webhooks
from service.store.background import Background
from service.store.database import Store
from service.store.errors import NotFound, StoreError
from service.store.scope import ShopScope
from service.store.webhooks import DEAD, DELIVERED, ENDPOINTS, PENDING, DeliveryRecord

_log = logging.getLogger("service")

PAUSES = tuple(
    timedelta(seconds=seconds)
    for seconds in (5, 60, 300, 1800, 7200, 18_000, 36_000, 50_400, 86_400)
)
"""Waits between tries: ten tries over some 55 hours, then the delivery is dead."""
SWEEP_SECONDS = 1.0
AT_ONCE = 20
"""Deliveries of one shop that are on their way at the same time."""
SHOPS_AT_ONCE = 50
"""Shops whose deliveries are."""

Post = Callable[[str, bytes, Mapping[str, str]], Awaitable[int]]


class WebhookSender:
    """Delivers the events of every shop until it is stopped."""

    def __init__(
        self, store: Store, *, allow_private: bool = False, post: Post | None = None
    ) -> None:
        self.store = store
        self.allow_private = allow_private
        self._post = post or self._outbound
        self._background = Background()
        self._working: dict[UUID, asyncio.Task[None]] = {}

    def start(self) -> None:
        """Begin to look for what is owed."""
        self._background.start(self._run())

    async def stop(self) -> None:
        """Stop; a delivery on its way comes due again when its lease runs out."""
        await self._background.stop(*self._working.values())

    async def sweep_shop(self, shop: UUID) -> int:
        """Send everything that is due in one shop now; how many deliveries were tried."""
        await self.store.write(shop, webhooks.spread_events)
        claimed = await self.store.write(shop, lambda s: webhooks.claim_due(s, AT_ONCE))
        done = [self._deliver(shop, record) for record in claimed]
        for fault in await asyncio.gather(*done, return_exceptions=True):
            if isinstance(fault, BaseException):
                raise fault  # after all others are settled
        return len(claimed)

    async def _run(self) -> None:
        while True:
            with _told():
                for shop in await self.store.shops_owed():
                    self._begin(shop)
            await asyncio.sleep(SWEEP_SECONDS)

    def _begin(self, shop: UUID) -> None:
        """Work a shop off beside the others: one with silent endpoints keeps nobody waiting."""
        if shop not in self._working and len(self._working) < SHOPS_AT_ONCE:
            task = asyncio.create_task(self._work_off(shop))
            self._working[shop] = task
            task.add_done_callback(lambda _: self._working.pop(shop, None))

    async def _work_off(self, shop: UUID) -> None:
        with _told():
            while await self.sweep_shop(shop):
                pass

    async def _deliver(self, shop: UUID, record: DeliveryRecord) -> None:
        status: int | None = None
        error: str | None = None
        try:
            status = await self._send(shop, record)
            if not 200 <= status < 300:
                error = f"answered {status}"
        except outbound.RefusedAddressError as refused:
            error = f"not called: {refused}"
        except TimeoutError:
            error = "no answer in time"
        except (OSError, ValueError) as fault:
            error = f"{type(fault).__name__}: {fault}"[:300]
        except NotFound:
            await self._settle(shop, record, DEAD, None, "the endpoint was removed")
            return
        count("deliveries", "failed" if error else "delivered")
        if error is None:
            await self._settle(shop, record, DELIVERED, status, None)
        elif record.attempts >= len(PAUSES) or status == 410:
            await self._settle(shop, record, DEAD, status, error)
        else:
            await self._settle(shop, record, PENDING, status, error)

    async def _send(self, shop: UUID, record: DeliveryRecord) -> int:
        def look(scope: ShopScope) -> tuple[str, list[str], UUID, bytes]:
            endpoint = ENDPOINTS.get(scope, record.endpoint_id)
            [event] = events.after(scope, record.sequence - 1, 1)
            secrets = webhook_secrets.good(endpoint.secrets, scope.now)
            body = msgspec.json.encode(shown(event))
            return endpoint.url, [secret.text for secret in secrets], event.id, body

        url, secrets, id, body = await self.store.read(shop, look)
        headers = signed_headers(secrets, str(id), int(time()), body)
        # All tries of one event are one trace, whose id is the event's.
        return await self._post(url, body, {**headers, "traceparent": begun_for(id.hex)})

    async def _settle(
        self, shop: UUID, record: DeliveryRecord, state: str, status: int | None, error: str | None
    ) -> None:
        def work(scope: ShopScope) -> None:
            at = next_try(scope.now, record.attempts) if state == PENDING else scope.now
            webhooks.settle(scope, record, state, at, status, error)

        await self.store.write(shop, work)

    async def _outbound(self, url: str, body: bytes, headers: Mapping[str, str]) -> int:
        return await outbound.post(url, body, headers, allow_private=self.allow_private)


@contextmanager
def _told() -> Iterator[None]:
    """Logs what went wrong and goes on: one odd delivery must not end the sending for good."""
    try:
        yield
    except StoreError as error:
        _log.warning("webhooks wait for the store: %s", error)
    except Exception:
        _log.exception("a sweep of the webhooks failed; the next one goes on")


def next_try(now: datetime, attempts: int) -> datetime:
    """When to try again after so many tries; spread by a tenth, so that not all come at once."""
    pause = PAUSES[min(attempts, len(PAUSES) - 1)]
    return now + pause * random.uniform(0.9, 1.1)  # noqa: S311 - spreads load, hides nothing
