"""Texts that people write about a vehicle or a visit, and what stored things share on the wire."""

from datetime import UTC, datetime
from typing import Annotated

from msgspec import Meta

ShortText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=120,
        pattern=r"^[^\x00-\x1f\x7f]*\Z",
        description="One line of text without control characters.",
    ),
]
NoteText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=4000,
        pattern=r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*\Z",
        description="Text of any number of lines.",
    ),
]
AwareTime = Annotated[
    datetime,
    Meta(tz=True, description="RFC 3339 date and time with its offset from UTC; kept in UTC."),
]
Revision = Annotated[
    int, Meta(ge=1, description="Goes up by one with each change; the ETag is this number quoted.")
]
Cursor = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=400,
        description="Where the next page begins; opaque, and good for the same filter only.",
    ),
]
EventType = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=60,
        pattern=r"^[a-z_]+\.[a-z_]+\Z",
        description="Kind of thing and what happened to it.",
        examples=["round.created", "visit.updated"],
    ),
]


def refuse_no_utc(field: str, at: datetime | None) -> None:
    """Refuse a time that its offset takes out of the calendar; raises `ValueError`.

    It is written as RFC 3339 asks, but the years 1 to 9999 have no such time in UTC, in which
    times are kept.
    """
    if not has_utc(at):
        raise ValueError(f"{field} has no time in UTC within the years 1 to 9999")


def has_utc(at: datetime | None) -> bool:
    """Whether a time, if there is one, can be kept in UTC."""
    if at is not None and at.year in (1, 9999):
        try:
            at.astimezone(UTC)
        except OverflowError:
            return False
    return True
