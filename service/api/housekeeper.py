"""Forgets what is kept for a time only, in every shop, once an hour.

Each process of the service runs one; that two of them look is harmless, for what is forgotten is
gone for both. Pieces are small, so that no client's write waits long behind one.
"""

import asyncio
import logging
from uuid import UUID

from service.store import idempotency, webhooks
from service.store.background import Background
from service.store.database import Store
from service.store.errors import StoreError

_log = logging.getLogger("service")

FIRST_SECONDS = 60.0
EVERY_SECONDS = 3600.0
FORGETTERS = (idempotency.forget_expired, webhooks.forget_delivered)
"""Each forgets some rows of a shop and says how many; 0 when there are no more."""


class Housekeeper:
    """Runs beside the requests until it is stopped."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self._background = Background()

    def start(self) -> None:
        """Begin; the first round is a minute later, when the service has settled."""
        self._background.start(self._run())

    async def stop(self) -> None:
        """Stop; what was not forgotten yet is left to the next start."""
        await self._background.stop()

    async def tidy(self) -> int:
        """Forget in every shop all that is past its time; how many rows there were."""
        return sum([await self._tidy_shop(shop) for shop in await self.store.every_shop()])

    async def _tidy_shop(self, shop: UUID) -> int:
        count = 0
        for forget in FORGETTERS:
            while gone := await self.store.write(shop, forget):
                count += gone
        return count

    async def _run(self) -> None:
        pause = FIRST_SECONDS
        while True:
            await asyncio.sleep(pause)
            pause = EVERY_SECONDS
            try:
                await self.tidy()
            except StoreError as error:
                _log.warning("tidying up waits for the store: %s", error)
            except Exception:
                _log.exception("tidying up failed; it is tried again in an hour")
