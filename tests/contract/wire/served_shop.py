"""The whole service in this process, with two shops whose keys fixed words stand for."""

from typing import NamedTuple
from uuid import UUID

from service.api.callers import FailedAttempts
from service.app import create_app
from service.contract.asgi import Message, Receive, Scope, Send
from service.settings import Settings
from service.store import keys
from service.store.database import Store

WORDS = (b"the-key-of-the-shop", b"the-key-of-another-shop")
"""What shops.json sends in place of keys."""
SCOPES = ["compute", "read", "write", "admin"]


class Key(NamedTuple):
    """A key of a shop that is alive."""

    id: str
    token: bytes


class ServedShop:
    """ASGI application: the service, which keys with every scope may ask for everything.

    The configuration must name keys before the shops are made, so each of `WORDS` is changed for
    a key of its shop on the way in. A case may well end that key; a new one is made then, or all
    that follows would be one 401 after another.
    """

    def __init__(self, database_url: str) -> None:
        self.door = create_app(Settings(database_url=database_url, request_log=False))
        # Wrong keys are sent on purpose, far more than thirty a minute.
        self.door.app.state["failed_attempts"] = FailedAttempts(most=10**9)
        self.answers: dict[int, int] = {}
        self._shops: dict[bytes, UUID] = {}
        self._keys: dict[bytes, Key] = {}

    @property
    def requests(self) -> int:
        """How many were answered."""
        return sum(self.answers.values())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or open and close the store with the lifespan."""
        if scope["type"] != "http":
            await self.door(scope, receive, send)
            return

        async def counted(message: Message) -> None:
            if message["type"] == "http.response.start":
                status = message["status"]
                self.answers[status] = self.answers.get(status, 0) + 1
            await send(message)

        scope["headers"] = [await self._with_key(*header) for header in scope["headers"]]
        await self.door(scope, receive, counted)
        ended = [word for word, key in self._keys.items() if key.id in scope["path"]]
        for word in ended:
            del self._keys[word]

    async def _with_key(self, name: bytes, value: bytes) -> tuple[bytes, bytes]:
        for word in WORDS if name == b"authorization" else ():
            if word in value:
                if word not in self._keys:
                    self._keys[word] = await self._made_key(word)
                return name, value.replace(word, self._keys[word].token)
        return name, value

    async def _made_key(self, word: bytes) -> Key:
        store: Store = self.door.app.state["store"]
        if word not in self._shops:
            self._shops[word] = await store.create_shop("Example Frame and Axle (invented)")
        record, token = await store.write(
            self._shops[word], lambda scope: keys.create(scope, "contract", SCOPES, None)
        )
        return Key(str(record.id), token.encode())
