"""Bodies that cannot be read as JSON at all: which fault it is, where, and what would do."""

import re
from typing import Any

import msgspec

from service.contract.problem_catalogue import (
    MALFORMED_JSON,
    NESTED_TOO_DEEPLY,
    NON_FINITE_NUMBER,
)
from service.contract.problems import FieldError, ProblemError

MAX_DEPTH = 64
"""Objects and arrays in each other; the contract's own requests need fewer than ten."""

_AT_BYTE = re.compile(r"\(byte (\d+)\)")
_NO_NUMBER = re.compile(rb"[-+]?(nan|inf(inity)?)", re.IGNORECASE)
_ESCAPED_SURROGATE = re.compile(rb"\\u[dD][89a-fA-F][0-9a-fA-F]{2}")
_decode = msgspec.json.Decoder().decode


def read_untyped(body: bytes) -> Any:
    """The body as dicts, lists and scalars; raises a 400 problem if it is not sound JSON."""
    try:
        value = _decode(body)
    except RecursionError:
        raise too_deep() from None
    except UnicodeError as error:
        raise not_json(_about_encoding(error), "Send UTF-8.") from None
    except msgspec.ValidationError:
        raise ProblemError(
            NON_FINITE_NUMBER,
            "A number in the body is too large to hold.",
            [FieldError("#", "A number is too large to hold.", "Write a number below 1e308.")],
        ) from None
    except msgspec.DecodeError as error:
        raise _unparsable(body, str(error)) from None
    if _deeper_than(value, MAX_DEPTH):
        raise too_deep()
    return value


def too_deep() -> ProblemError:
    """The problem of a body nested deeper than `MAX_DEPTH`."""
    detail = f"Objects and arrays lie more than {MAX_DEPTH} deep in each other."
    hint = "No request of this service nests deeper than its schema shows."
    return ProblemError(NESTED_TOO_DEEPLY, detail, [FieldError("#", detail, hint)])


def not_json(detail: str, hint: str) -> ProblemError:
    """The problem of a body that is no JSON text."""
    return ProblemError(MALFORMED_JSON, detail, [FieldError("#", detail, hint)])


def _unparsable(body: bytes, reason: str) -> ProblemError:
    found = _AT_BYTE.search(reason)
    at = int(found.group(1)) if found else len(body)
    if not body.strip():
        return not_json("The body is empty.", "Send a JSON object.")
    if body.startswith((b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")):
        return not_json("The body begins with a byte order mark.", "Send UTF-8 without one.")
    if _NO_NUMBER.match(body, at) or _NO_NUMBER.match(body, max(at - 1, 0)):
        detail = f"There is a number at byte {at} that is not finite; JSON has none."
        hint = "Leave out what is not known."
        return ProblemError(NON_FINITE_NUMBER, detail, [FieldError("#", detail, hint)])
    if found is None and _ESCAPED_SURROGATE.search(body):
        return not_json(
            "A string holds half of a surrogate pair.", "Escape both halves or write the character."
        )
    if found is None:
        return not_json("The body ends too early.", "Close every string, array and object.")
    what = reason.removeprefix("JSON is malformed: ").partition(" (byte")[0]
    return not_json(f"At byte {at}: {what}.", "Write JSON as RFC 8259 has it.")


def _about_encoding(error: UnicodeError) -> str:
    if isinstance(error, UnicodeDecodeError):
        return f"The byte 0x{error.object[error.start]:02x} in a string is not UTF-8."
    return "A string in the body is not UTF-8."


def _deeper_than(value: Any, limit: int) -> bool:
    """Whether containers lie deeper than `limit`, without recursion."""
    layer = [value]
    for _ in range(limit):
        layer = [
            child
            for node in layer
            if isinstance(node, dict | list)
            for child in (node.values() if isinstance(node, dict) else node)
            if isinstance(child, dict | list)
        ]
        if not layer:
            return False
    return True
