"""Stored work as one part of the application: its routes, its store and what it needs to serve."""

from typing import Any

from litestar import Litestar

from service.api import (
    events,
    exports,
    histories,
    keys,
    rounds,
    stored_target_sets,
    syncs,
    vehicles,
    visits,
    webhook_endpoints,
)
from service.api.access import FailedAttempts
from service.store.database import Store

ROUTES: list[Any] = [
    vehicles.create_vehicle,
    vehicles.put_vehicle,
    vehicles.list_vehicles,
    vehicles.get_vehicle,
    vehicles.delete_vehicle,
    vehicles.restore_vehicle,
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


def attach(app: Litestar, store: Store) -> None:
    """Give the handlers of `ROUTES` what they find in the application's state."""
    app.state["store"] = store
    app.state["failed_attempts"] = FailedAttempts()
