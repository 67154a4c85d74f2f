"""Stored work as one part of the application: its routes, its store and what it needs to serve."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from litestar import Litestar

from service.api import (
    events,
    exports,
    histories,
    keys,
    rate_cards,
    rounds,
    stored_target_sets,
    syncs,
    vehicle_sheets,
    vehicles,
    visit_line_items,
    visit_sheets,
    visits,
    webhook_endpoints,
)
from service.api.callers import FailedAttempts, uses_noted
from service.api.health import Check
from service.api.housekeeper import Housekeeper
from service.api.vouched import Vouched
from service.api.webhook_sender import WebhookSender
from service.settings import Settings
from service.store.database import Store, is_embedded, open_store
from service.store.errors import StoreUnavailable

ROUTES: list[Any] = [
    vehicles.create_vehicle,
    vehicles.put_vehicle,
    vehicles.list_vehicles,
    vehicles.get_vehicle,
    vehicles.delete_vehicle,
    vehicles.restore_vehicle,
    vehicle_sheets.get_blank_worksheet,
    histories.get_vehicle_history,
    visits.create_visit,
    visits.put_visit,
    visits.list_visits,
    visits.get_visit,
    visits.delete_visit,
    visits.restore_visit,
    visits.close_visit,
    visits.reopen_visit,
    rounds.create_round,
    rounds.put_round,
    rounds.list_rounds,
    rounds.get_round,
    syncs.sync_work,
    stored_target_sets.put_target_set,
    stored_target_sets.get_target_set_version,
    stored_target_sets.withdraw_target_set,
    stored_target_sets.restore_target_set,
    rate_cards.put_rate_card,
    rate_cards.list_rate_cards,
    rate_cards.get_rate_card,
    rate_cards.get_rate_card_version,
    rate_cards.withdraw_rate_card,
    rate_cards.restore_rate_card,
    visit_line_items.estimate_visit,
    visit_line_items.bill_visit,
    visit_line_items.list_visit_bills,
    visit_line_items.get_visit_bill,
    visit_sheets.get_visit_plan_view,
    visit_sheets.get_visit_worksheet,
    visit_sheets.issue_visit_worksheet,
    visit_sheets.list_visit_worksheets,
    visit_sheets.get_issued_worksheet,
    events.list_events,
    webhook_endpoints.create_webhook_endpoint,
    webhook_endpoints.list_webhook_endpoints,
    webhook_endpoints.get_webhook_endpoint,
    webhook_endpoints.put_webhook_endpoint,
    webhook_endpoints.delete_webhook_endpoint,
    webhook_endpoints.rotate_webhook_secret,
    webhook_endpoints.list_webhook_deliveries,
    webhook_endpoints.resend_webhook_delivery,
    keys.create_key,
    keys.list_keys,
    keys.get_key,
    keys.rotate_key,
    keys.revoke_key,
    exports.export_shop,
]


class Stored:
    """The store of an application, from its start to its end."""

    def __init__(self, settings: Settings) -> None:
        self.url = settings.database_url
        self._keyed = not settings.open_for_computing()
        self.store = open_store(self.url, settings.database_pool)
        self.sender = WebhookSender(self.store, allow_private=settings.webhooks_private)
        self.housekeeper = Housekeeper(self.store)
        self._checked = False

    def checks(self) -> dict[str, Check]:
        """What `/health/ready` looks at."""
        return {"database": self.store.ready, "migrations": self._migrated}

    @asynccontextmanager
    async def lifespan(self, _app: Litestar) -> AsyncIterator[None]:
        """Bring an embedded database up to date, serve, and let go of everything at the end.

        PostgreSQL is migrated by `axlewright migrate`, once for all replicas.
        """
        if is_embedded(self.url):
            await self._bring_up_to_date()
        await self.store.open()
        if self._keyed:
            self.store.key_watch().start()
        self.sender.start()
        self.housekeeper.start()
        try:
            yield
        finally:
            await self.sender.stop()
            await self.housekeeper.stop()
            await uses_noted()
            await self.store.close()

    async def _bring_up_to_date(self) -> None:
        from service.store.revisions import is_current

        if not await asyncio.to_thread(is_current, self.url):
            from service.store.migration import migrate

            await migrate(self.url)
        self._checked = True

    async def _migrated(self) -> None:
        if not self._checked:
            from service.store.migration import migrate_check

            missing = await migrate_check(self.url)
            if missing:
                raise StoreUnavailable(missing)
            self._checked = True


def attach(app: Litestar, store: Store) -> None:
    """Give the handlers of `ROUTES` what they find in the application's state."""
    app.state["store"] = store
    app.state["failed_attempts"] = FailedAttempts()
    app.state["vouched"] = Vouched(store.key_watch())
