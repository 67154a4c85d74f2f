"""The one error of pricing: what was wrong, how to write it right, and where it stands."""

from collections.abc import Sequence


class PricingError(ValueError):
    """A rate card, an amount or a piece of work that cannot be priced.

    `path` leads from the top of what was given to the fault: names of members as they are on the
    wire and places in lists, so that the door can write it as a JSON pointer.
    """

    def __init__(self, reason: str, hint: str, path: tuple[str | int, ...] = ()) -> None:
        super().__init__(f"{reason}: {hint}")
        self.reason = reason
        self.hint = hint
        self.path = path

    def under(self, *path: str | int) -> "PricingError":
        """The same fault, seen from further up."""
        return PricingError(self.reason, self.hint, (*path, *self.path))


class RateCardError(PricingError):
    """All faults of a rate card, in `errors`; it speaks of the first."""

    def __init__(self, errors: Sequence[PricingError]) -> None:
        first = errors[0]
        super().__init__(first.reason, first.hint, first.path)
        self.errors = tuple(errors)
