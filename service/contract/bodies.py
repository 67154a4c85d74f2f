"""A request body from bytes to its struct: strict, at once, and with every fault named."""

from functools import cache
from typing import Any

import msgspec

from service.contract.duplicates import refuse_duplicates
from service.contract.members import member_counter
from service.contract.problem_catalogue import CONTRACT_BROKEN
from service.contract.problems import FieldError, ProblemError, pointer_to
from service.contract.unreadable import read_untyped
from service.contract.violations import violations

_WHOLE = float(2**53)
"""Whole floats up to here are integers without doubt."""


class BodyReader:
    """Decodes bodies of one type; made once for a type by `reader_of`."""

    __slots__ = ("_cls", "_decode", "_members_of")

    def __init__(self, cls: Any) -> None:
        if not (isinstance(cls, type) and issubclass(cls, msgspec.Struct)):
            raise TypeError(f"a body is a struct with a name, not {cls}")
        self._cls = cls
        self._decode = msgspec.json.Decoder(cls).decode
        self._members_of = member_counter(cls)

    def read(self, body: bytes) -> Any:
        """The body as an instance of the type; raises `ProblemError` with 400 or 422."""
        value = self.decoded(body)
        self.refuse_duplicates(body, value)
        return value

    def decoded(self, body: bytes) -> Any:
        """The same, but that a key may stand twice, which `refuse_duplicates` is to find."""
        try:
            return self._decode(body)
        except (msgspec.DecodeError, UnicodeError, RecursionError):
            return self._read_again(body)

    def refuse_duplicates(self, body: bytes, value: Any) -> None:
        """Raise a problem if an object in the body that a value came from has a key twice."""
        refuse_duplicates(body, self._members_of(value) if self._members_of else -1)

    def _read_again(self, body: bytes) -> Any:
        """Say everything that is wrong, or let through what JSON Schema calls right.

        Strict decoding refuses 3.0 for an integer; to JSON Schema they are one number.
        """
        untyped = read_untyped(body)
        refuse_duplicates(body)
        errors = violations(untyped, self._cls)
        if errors:
            raise ProblemError.of_broken_rules(errors)
        try:
            return self._decode(msgspec.json.encode(_with_whole_numbers(untyped)))
        except msgspec.ValidationError as error:
            raise ProblemError.of_broken_rules([undescribed(error)]) from None


@cache
def reader_of(cls: Any) -> BodyReader:
    """The reader of a type."""
    return BodyReader(cls)


def _with_whole_numbers(node: Any) -> Any:
    """The same JSON value with 3.0 written as 3."""
    if isinstance(node, dict):
        return {name: _with_whole_numbers(child) for name, child in node.items()}
    if isinstance(node, list):
        return [_with_whole_numbers(child) for child in node]
    if isinstance(node, float) and node.is_integer() and abs(node) <= _WHOLE:
        return int(node)
    return node


def undescribed(error: msgspec.ValidationError) -> FieldError:
    """A fault that decoding finds and the published schema does not describe."""
    reason, _, place = str(error).partition(" - at `$")
    steps = [
        int(step) if step.isdigit() else step
        for step in place.rstrip("`").replace("[", ".").replace("]", "").split(".")
        if step
    ]
    hint = "The schema in /openapi.json says what is allowed here."
    return FieldError(pointer_to(*steps), f"{reason}.", hint, CONTRACT_BROKEN.type)
