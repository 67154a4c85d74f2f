"""`/v1/webhook-endpoints`: where events are pushed to, signed by Standard Webhooks."""

from enum import StrEnum
from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.texts import AwareTime, EventType, NoteText, Revision


class EndpointContent(ClosedStruct):
    """A webhook endpoint as a shop describes it."""

    url: Annotated[
        str,
        Meta(
            min_length=10,
            max_length=500,
            pattern=r"^https?://[!-~]+\Z",
            examples=["https://shop.example/axlewright"],
        ),
    ]
    """Where events are posted: https, at a public address, unless the operator allows others."""
    event_types: Annotated[list[EventType], Meta(max_length=50)] = []
    """Types to be sent; empty means every one."""
    description: NoteText | None = None
    enabled: bool = True


class StoredEndpoint(OpenStruct):
    """A webhook endpoint of the shop."""

    id: UUID
    revision: Revision
    url: str
    event_types: list[str]
    description: str | None
    enabled: bool
    created_at: AwareTime
    updated_at: AwareTime


class NewEndpoint(OpenStruct):
    """An endpoint with its secret, by which the receiver checks signatures."""

    endpoint: StoredEndpoint
    secret: str
    """`whsec_` and base64; shown this once."""


class SecretRotationRequest(ClosedStruct):
    """How an endpoint's secret is replaced."""

    overlap_minutes: Annotated[int, Meta(ge=0, le=60 * 24 * 30)] = 60 * 24
    """How long messages are signed with the old secret too."""


class EndpointList(OpenStruct):
    """The shop's endpoints, oldest first."""

    items: list[StoredEndpoint]


class DeliveryState(StrEnum):
    """What became of an event on its way to an endpoint."""

    PENDING = "pending"
    DELIVERED = "delivered"
    DEAD = "dead"


class StoredDelivery(OpenStruct):
    """One event on its way to one endpoint."""

    id: UUID
    endpoint_id: UUID
    event_sequence: int
    state: DeliveryState
    attempts: int
    next_attempt_at: AwareTime
    last_status: int | None
    """HTTP status of the last answer."""
    last_error: str | None
    created_at: AwareTime
    updated_at: AwareTime


class DeliveryList(OpenStruct):
    """Deliveries of one state, newest first; `dead` is the dead-letter list."""

    items: list[StoredDelivery]
