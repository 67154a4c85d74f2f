"""Webhook endpoints and their deliveries: what is owed, to whom, when next, and what came of it.

An endpoint remembers the last event it was given (`seen`). Turning new events into deliveries and
moving `seen` on is one transaction, so an event is owed to each endpoint once, and tried until it
arrives or the tries run out (`dead`). A try is claimed by moving its next time ahead: a process
that dies leaves a delivery that comes due again.
"""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store import events
from service.store.binding import of_shop
from service.store.entities import Kind
from service.store.errors import Conflict, NotFound
from service.store.ids import new_id
from service.store.scope import ShopScope
from service.store.tables import webhook_deliveries, webhook_endpoints

PENDING = "pending"
DELIVERED = "delivered"
DEAD = "dead"
LEASE = timedelta(minutes=2)
DELIVERED_LIFE = timedelta(days=30)
"""How long a delivery that arrived is remembered; a dead one is until it is sent again."""
AT_ONCE = 500
"""Deliveries that one piece of work forgets."""
MOST = 100
"""Endpoints that a shop can have."""


class EndpointRecord(msgspec.Struct):
    """A row of `webhook_endpoints`; `event_types` and `secrets` are JSON."""

    id: UUID
    url: str
    description: str
    event_types: bytes
    secrets: bytes
    enabled: bool
    seen: int
    created_at: datetime
    updated_at: datetime
    revision: int
    deleted_at: datetime | None


class DeliveryRecord(msgspec.Struct):
    """A row of `webhook_deliveries`."""

    id: UUID
    endpoint_id: UUID
    sequence: int
    state: str
    attempts: int
    next_attempt_at: datetime
    last_status: int | None
    last_error: str | None
    created_at: datetime
    updated_at: datetime


class _Endpoints(Kind[EndpointRecord]):
    """Endpoints are few: every event is looked at for each of them."""

    def create(
        self, scope: ShopScope, content: dict[str, Any], id: UUID | None = None
    ) -> EndpointRecord:
        """Add an endpoint; Conflict when the shop has all that it can have."""
        self._refuse_if_many(scope)
        return super().create(scope, content, id)

    def _refuse_if_many(self, scope: ShopScope) -> None:
        if len(endpoints(scope)) >= MOST:
            raise Conflict(f"A shop has at most {MOST} webhook endpoints; remove one first.")


ENDPOINTS = _Endpoints("webhook_endpoint", webhook_endpoints, EndpointRecord)

_endpoint_columns = [webhook_endpoints.c[name] for name in EndpointRecord.__struct_fields__]
_delivery_columns = [webhook_deliveries.c[name] for name in DeliveryRecord.__struct_fields__]
_LIVE = of_shop(
    sa.select(*_endpoint_columns)
    .where(webhook_endpoints.c.deleted_at.is_(None))
    .order_by(webhook_endpoints.c.created_at, webhook_endpoints.c.id)
    .limit(MOST)
)
_SEEN = of_shop(
    sa.update(webhook_endpoints)
    .where(
        webhook_endpoints.c.id == sa.bindparam("which"),
        webhook_endpoints.c.seen == sa.bindparam("old_seen"),
    )
    .values(seen=sa.bindparam("new_seen"))
)
_DUE = of_shop(
    sa.select(*_delivery_columns)
    .where(
        webhook_deliveries.c.state == sa.literal_column("'pending'"),
        webhook_deliveries.c.next_attempt_at <= sa.bindparam("now"),
    )
    .order_by(webhook_deliveries.c.next_attempt_at)
    .limit(sa.bindparam("limit", type_=sa.Integer))
)
_CLAIM = of_shop(
    sa.update(webhook_deliveries)
    .where(
        webhook_deliveries.c.id == sa.bindparam("which"),
        webhook_deliveries.c.state == PENDING,
        webhook_deliveries.c.next_attempt_at == sa.bindparam("due_at"),
    )
    .values(next_attempt_at=sa.bindparam("new_next_attempt_at"))
)
_SETTLE = of_shop(
    sa.update(webhook_deliveries)
    .where(webhook_deliveries.c.id == sa.bindparam("which"))
    .values(
        {
            name: sa.bindparam(f"new_{name}")
            for name in (
                "state",
                "attempts",
                "next_attempt_at",
                "last_status",
                "last_error",
                "updated_at",
            )
        }
    )
)
_SOME_DELIVERED = of_shop(
    sa.select(webhook_deliveries.c.id)
    .where(
        webhook_deliveries.c.state == DELIVERED,
        webhook_deliveries.c.created_at <= sa.bindparam("before"),
    )
    .order_by(webhook_deliveries.c.created_at)
    .limit(AT_ONCE)
)
_FORGET = of_shop(
    sa.delete(webhook_deliveries).where(webhook_deliveries.c.id.in_(_SOME_DELIVERED.statement))
)
_IN_STATE = of_shop(
    sa.select(*_delivery_columns)
    .where(webhook_deliveries.c.state == sa.bindparam("state"))
    .order_by(webhook_deliveries.c.created_at.desc(), webhook_deliveries.c.id.desc())
    .limit(sa.bindparam("limit", type_=sa.Integer))
)


def endpoints(scope: ShopScope) -> list[EndpointRecord]:
    """The shop's endpoints, oldest first."""
    return scope.rows(EndpointRecord, _LIVE)


def spread_events(scope: ShopScope, limit: int = 500) -> int:
    """Turn the events that an endpoint has not seen into deliveries; how many were made."""
    made = 0
    for endpoint in endpoints(scope):
        news = events.after(scope, endpoint.seen, limit) if endpoint.enabled else []
        if not news:
            continue
        last = news[-1].sequence
        if not scope.run(_SEEN, which=endpoint.id, old_seen=endpoint.seen, new_seen=last):
            continue  # another process was quicker
        wanted = msgspec.json.decode(endpoint.event_types, type=list[str])
        for event in news:
            if not wanted or event.type in wanted:
                _owe(scope, endpoint.id, event.sequence)
                made += 1
    return made


def _owe(scope: ShopScope, endpoint: UUID, sequence: int) -> None:
    now = scope.now
    record = DeliveryRecord(new_id(), endpoint, sequence, PENDING, 0, now, None, None, now, now)
    scope.insert_record(webhook_deliveries, record)


def claim_due(scope: ShopScope, limit: int) -> list[DeliveryRecord]:
    """Deliveries to try now; each is ours until its lease runs out."""
    claimed = []
    for record in scope.rows(DeliveryRecord, _DUE, now=scope.now, limit=limit):
        until = scope.now + LEASE
        if scope.run(
            _CLAIM, which=record.id, due_at=record.next_attempt_at, new_next_attempt_at=until
        ):
            claimed.append(record)
    return claimed


def settle(
    scope: ShopScope,
    record: DeliveryRecord,
    state: str,
    next_attempt_at: datetime,
    status: int | None,
    error: str | None,
) -> None:
    """Write down what came of a try."""
    scope.run(
        _SETTLE,
        which=record.id,
        new_state=state,
        new_attempts=record.attempts + 1,
        new_next_attempt_at=next_attempt_at,
        new_last_status=status,
        new_last_error=error,
        new_updated_at=scope.now,
    )


def deliveries(scope: ShopScope, state: str, limit: int) -> list[DeliveryRecord]:
    """The newest deliveries in a state; `dead` is the dead-letter list."""
    return scope.rows(DeliveryRecord, _IN_STATE, state=state, limit=limit)


def forget_delivered(scope: ShopScope) -> int:
    """Delete some deliveries that arrived long ago; how many, 0 when there are no more."""
    return scope.run(_FORGET, before=scope.now - DELIVERED_LIFE)


def resend(scope: ShopScope, id: UUID) -> DeliveryRecord:
    """Make a delivery due at once, with all its tries before it; a pending one stays as it is."""
    found = scope.find(DeliveryRecord, webhook_deliveries, id=id)
    if found is None:
        raise NotFound("delivery")
    if found.state == PENDING:
        return found
    scope.run(
        _SETTLE,
        which=id,
        new_state=PENDING,
        new_attempts=0,
        new_next_attempt_at=scope.now,
        new_last_status=found.last_status,
        new_last_error=found.last_error,
        new_updated_at=scope.now,
    )
    again = scope.find(DeliveryRecord, webhook_deliveries, id=id)
    assert again is not None
    return again
