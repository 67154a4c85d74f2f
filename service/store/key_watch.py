"""Whether a key may have changed since it was looked at, told without asking the database much."""

from collections.abc import Hashable
from typing import Protocol

from service.store.keys import Token


class KeyWatch(Protocol):
    """Sees what any process does to keys. Its store ends it when it is closed."""

    def start(self) -> None:
        """Begin to watch; needed once, in the running event loop."""

    def mark(self, token: Token) -> Hashable | None:
        """The same for as long as the key was not changed; None while that cannot be told."""
