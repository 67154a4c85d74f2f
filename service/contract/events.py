"""`/v1/events`: what changed, in the order it was committed."""

from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import OpenStruct
from service.contract.texts import AwareTime, Cursor


class EventData(OpenStruct):
    """What a program needs to decide whether to read the subject; what does not apply is null."""

    id: str
    """The subject's id, or the name of a target set or rate card."""
    revision: int | None = None
    version: int | None = None
    visit_id: UUID | None = None
    label: str | None = None
    """A round's label."""
    number: int | None = None
    """A final list's number."""


class StoredEvent(OpenStruct):
    """Something that happened; read the subject to learn more."""

    sequence: Annotated[int, Meta(ge=1)]
    """Counts up by one within the shop."""
    id: UUID
    type: Annotated[str, Meta(examples=["round.created"])]
    subject: Annotated[str, Meta(examples=["visit/0190f0c0-0000-7000-8000-000000000001"])]
    """Kind and id of the thing it happened to."""
    data: EventData
    created_at: AwareTime


class EventPage(OpenStruct):
    """Events, oldest first."""

    items: list[StoredEvent]
    next_cursor: Cursor
    """Give it back as `cursor` to get what came since; always there."""
