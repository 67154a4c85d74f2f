"""The whole service in this process, with one shop whose key a fixed word stands for."""

from uuid import UUID

from service.api.callers import FailedAttempts
from service.app import create_app
from service.contract.asgi import Message, Receive, Scope, Send
from service.settings import Settings
from service.store import keys
from service.store.database import Store

WORD = b"the-key-of-the-shop"
SCOPES = ["compute", "read", "write", "admin"]


class ServedShop:
    """ASGI application: the service, which a key with every scope may ask for everything.

    The configuration must name the key before the shop is made, so `WORD` is changed for the key
    on the way in. A case may well end that key; a new one is made then, or all that follows would
    be one 401 after another.
    """

    def __init__(self, database_url: str) -> None:
        self.door = create_app(Settings(database_url=database_url, request_log=False))
        # Wrong keys are sent on purpose, far more than thirty a minute.
        self.door.app.state["failed_attempts"] = FailedAttempts(most=10**9)
        self.answers: dict[int, int] = {}
        self._shop: UUID | None = None
        self._key: keys.KeyRecord | None = None
        self._token = b""

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
        if self._key is not None and str(self._key.id) in scope["path"]:
            self._key = None

    async def _with_key(self, name: bytes, value: bytes) -> tuple[bytes, bytes]:
        if name != b"authorization" or WORD not in value:
            return name, value
        if self._key is None:
            await self._make_key()
        return name, value.replace(WORD, self._token)

    async def _make_key(self) -> None:
        store: Store = self.door.app.state["store"]
        if self._shop is None:
            self._shop = await store.create_shop("Example Frame and Axle (invented)")
        made = await store.write(
            self._shop, lambda scope: keys.create(scope, "contract", SCOPES, None)
        )
        self._key, self._token = made[0], made[1].encode()
