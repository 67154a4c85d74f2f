"""How a request that reads well but makes no sense is refused: all its faults at once."""

from collections.abc import Sequence

from service.contract.problem_catalogue import UNREADABLE_TEXT, ProblemKind
from service.contract.problems import FieldError, ProblemError, field_error, pointer_to
from service.geometry.quantity import QuantityError


class FaultError(Exception):
    """One thing wrong with one field: its kind, the field, what is wrong, how to write it."""

    def __init__(self, kind: ProblemKind, field: str, detail: str, hint: str) -> None:
        super().__init__(detail)
        self.kind = kind
        self.field = field
        self.detail = detail
        self.hint = hint

    def at(self, *steps: str | int) -> FieldError:
        """The fault as an entry of a problem, its field below `steps` of the body."""
        path = (*steps, self.field) if self.field else steps
        return field_error(self.kind, pointer_to(*path), sentence(self.detail), self.hint)


def unreadable(error: QuantityError, *steps: str | int) -> FieldError:
    """A text that is no quantity, as an entry of a problem."""
    reason, hint = sentence(error.reason), sentence(error.hint)
    return field_error(UNREADABLE_TEXT, pointer_to(*steps), reason, hint)


def sentence(text: str) -> str:
    """A remark as a sentence: a capital first, a full stop last."""
    first = text[:1].upper() + text[1:]
    return first if first.endswith((".", "!", "?")) else f"{first}."


def refuse(errors: Sequence[FieldError]) -> None:
    """Raise the problem that these errors make, if there are any."""
    if errors:
        raise ProblemError.of_broken_rules(errors)
