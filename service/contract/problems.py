"""Problems on the wire (RFC 9457) and the exception that carries one to the door."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Self
from urllib.parse import quote

import msgspec
from msgspec import Meta

from service.contract.base import OpenStruct
from service.contract.problem_catalogue import (
    CONTRACT_BROKEN,
    KINDS,
    MALFORMED_JSON,
    ProblemKind,
)

PROBLEM_JSON = "application/problem+json"

MAX_ERRORS = 100
"""Entries of `errors` in one problem; `detail` says how many more there are."""


class FieldError(msgspec.Struct):
    """One broken rule: where, what, and how to write it right."""

    pointer: Annotated[str, Meta(examples=["#/readings/0/axle", "?baseline"])]
    """Place in the body as a JSON pointer in a URI fragment (RFC 6901); a query parameter as
    `?name`, a path parameter as `{name}`, a header as `Name:`."""
    detail: str
    """What is wrong there."""
    hint: str
    """How to write it right."""
    type: Annotated[str, Meta(examples=["/problems/axle-not-found"])] = ""
    """Kind of this broken rule, as `type` of a problem."""


class Problem(OpenStruct):
    """What went wrong, for programs (`type`, `status`, `errors`) and for people (the rest)."""

    type: Annotated[str, Meta(examples=["/problems/incomplete-pair"])]
    """Kind of problem, relative to the service; stable, and the one thing to branch on."""
    title: str
    """The kind in words; the same for every problem of this `type`."""
    status: int
    """HTTP status of the answer."""
    detail: str
    """What went wrong this time."""
    instance: Annotated[str, Meta(examples=["urn:uuid:0190f0c0-0000-8000-8000-000000000001"])]
    """The request, by the id that `Request-Id` of the answer and the service's log carry."""
    errors: list[FieldError] = []
    """Every broken rule, in the order of the body; `type` of the problem is that of the first."""


class ProblemError(Exception):
    """Raised anywhere behind the door; the door answers with the problem it carries.

    Errors that name no kind of their own are of the problem's. `headers` go into the answer
    (`Retry-After`, `Allow`).
    """

    def __init__(
        self,
        kind: ProblemKind,
        detail: str,
        errors: Sequence[FieldError] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(kind.slug, detail)
        self.kind = kind
        self.detail = detail
        self.errors = list(errors)
        self.headers: Mapping[str, str] = headers or {}
        for error in self.errors:
            error.type = error.type or kind.type

    @classmethod
    def of_broken_rules(cls, errors: Sequence[FieldError]) -> Self:
        """A problem of the first error's kind that names every one of them (at least one)."""
        return cls(kind_of(errors[0]), _first_of(errors), errors)

    def within(self, *steps: str | int) -> "ProblemError":
        """The same of a larger body, in which what this one speaks of stands at `steps`."""
        place = pointer_to(*steps)
        errors = [
            msgspec.structs.replace(error, pointer=place + error.pointer.removeprefix("#"))
            if error.pointer.startswith("#")
            else error
            for error in self.errors
        ]
        named = errors and self.detail == _first_of(self.errors)
        detail = _first_of(errors) if named else self.detail
        return ProblemError(self.kind, detail, errors, self.headers)

    def problem(self, instance: str) -> Problem:
        """The body of the answer to the request that `instance` names."""
        detail = self.detail
        if len(self.errors) > MAX_ERRORS:
            detail += f" Listed here are {MAX_ERRORS} of {len(self.errors)} errors."
        return Problem(
            type=self.kind.type,
            title=self.kind.title,
            status=self.kind.status,
            detail=detail,
            instance=instance,
            errors=self.errors[:MAX_ERRORS],
        )


def _first_of(errors: Sequence[FieldError]) -> str:
    """The first error with its place, and how many there are."""
    told = f"{errors[0].pointer.removesuffix(':')}: {errors[0].detail}"
    return told if len(errors) == 1 else f"{len(errors)} rules are broken, first {told}"


class BodyLostError(ProblemError):
    """The client left before its body had come whole."""

    def __init__(self) -> None:
        detail = "The body did not arrive whole."
        super().__init__(MALFORMED_JSON, detail, [FieldError("#", detail, "Send it again.")])


def field_error(kind: ProblemKind, pointer: str, detail: str, hint: str) -> FieldError:
    """An entry of `errors` with a kind of its own."""
    return FieldError(pointer, detail, hint, kind.type)


def kind_of(error: FieldError) -> ProblemKind:
    """The catalogue's entry for an error; one without a type breaks the contract in general."""
    return KINDS.get(error.type.rpartition("/")[2], CONTRACT_BROKEN)


def pointer_to(*steps: str | int) -> str:
    """JSON pointer in a URI fragment: `pointer_to("readings", 0, "axle")` is `#/readings/0/axle`.

    `~` and `/` are escaped first (RFC 6901 section 3), then what a fragment cannot hold is
    percent-encoded (section 6).
    """
    return "#" + "".join("/" + _escaped(str(step)) for step in steps)


def _escaped(step: str) -> str:
    if step.isascii() and step.isalnum():
        return step
    return quote(step.replace("~", "~0").replace("/", "~1"), safe="~!$&'()*+,;=:@?")
