"""Stored work as one part of the application: its routes, its store and what it needs to serve."""

from typing import Any

from litestar import Litestar

from service.api import rounds, vehicles, visits
from service.api.access import FailedAttempts
from service.store.database import Store

ROUTES: list[Any] = [
    vehicles.create_vehicle,
    vehicles.put_vehicle,
    vehicles.list_vehicles,
    vehicles.get_vehicle,
    vehicles.delete_vehicle,
    vehicles.restore_vehicle,
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
]


def attach(app: Litestar, store: Store) -> None:
    """Give the handlers of `ROUTES` what they find in the application's state."""
    app.state["store"] = store
    app.state["failed_attempts"] = FailedAttempts()
