"""What the store can say no with.

StoreError
├── NotFound          the shop has no such thing (or another shop has it: the same answer)
├── StaleRevision     somebody changed it since the caller read it
├── RevisionNeeded    a change of something that exists, without saying which revision was read
├── Conflict          the change contradicts what is stored (an immutable thing, a wrong state)
├── BadCursor         a cursor that was not made for this list and filter
├── KeyTaken          an answer to a request with the same idempotency key was kept before
├── KeyInFlight       a request with the same idempotency key is being worked on
└── StoreUnavailable  the database cannot be reached or cannot write now; trying later may help
    └── NotMigrated   the database lacks what a migration makes
"""

# ruff: noqa: N818 - each is named for what it says


class StoreError(Exception):
    """Base of what the store refuses; the text may be shown to the client."""


class NotFound(StoreError):
    """The shop has no such thing."""

    def __init__(self, kind: str) -> None:
        super().__init__(f"No such {kind}.")
        self.kind = kind


class StaleRevision(StoreError):
    """Somebody changed it since the caller read it."""

    def __init__(self, current: int) -> None:
        super().__init__(f"It was changed since you read it; its revision is now {current}.")
        self.current = current


class RevisionNeeded(StoreError):
    """It exists and differs, and the caller did not say which revision was read."""

    def __init__(self, current: int) -> None:
        super().__init__("It exists with another content; say which revision you replace.")
        self.current = current


class Conflict(StoreError):
    """The change contradicts what is stored."""


class BadCursor(StoreError):
    """A cursor that was not made for this list and filter."""

    def __init__(self) -> None:
        super().__init__(
            "The cursor does not belong to this list with this filter; start again without one."
        )


class StoreUnavailable(StoreError):
    """The database cannot be reached or cannot write now."""

    def __init__(self, reason: str = "The store cannot be reached now.") -> None:
        super().__init__(reason)


class NotMigrated(StoreUnavailable):
    """The database lacks a table, a column or the role that a migration makes."""

    def __init__(self) -> None:
        super().__init__(
            "The database is not at the revision that this service needs: run `axlewright migrate`."
        )


class KeyInFlight(StoreError):
    """Another request with this key is being worked on."""

    def __init__(self) -> None:
        super().__init__("A request with this key is being worked on; ask again in a moment.")


class KeyTaken(StoreError):
    """An answer to a request with this key was kept before, or has just been."""

    def __init__(self) -> None:
        super().__init__("A request with this key was answered before.")
