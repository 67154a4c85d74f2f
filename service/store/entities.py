"""The life that vehicles, visits and webhook endpoints share.

A thing is made with an id (its own or the client's), changed against a revision, deleted softly
and restored. Every step is announced as an event in the same transaction.
"""

from typing import Any, Generic, TypeVar
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.errors import Conflict, NotFound, RevisionNeeded, StaleRevision
from service.store.ids import new_id
from service.store.scope import ShopScope

Record = TypeVar("Record", bound=msgspec.Struct)


class Kind(Generic[Record]):
    """A kind of thing: its table, its record and what the trade calls it."""

    def __init__(self, name: str, table: sa.Table, record: type[Record]) -> None:
        self.name = name
        self.table = table
        self.record = record

    def find(self, scope: ShopScope, id: UUID) -> Record | None:
        """The thing with this id, deleted or not."""
        return scope.find(self.record, self.table, id=id)

    def get(self, scope: ShopScope, id: UUID, *, locked: bool = False) -> Record:
        """The thing with this id; NotFound if there is none or it was deleted."""
        found: Any = scope.find(self.record, self.table, id=id, locked=locked)
        if found is None or found.deleted_at is not None:
            raise NotFound(self.name)
        return found  # type: ignore[no-any-return]

    def create(self, scope: ShopScope, content: dict[str, Any], id: UUID | None = None) -> Record:
        """Make a thing, under a new id unless the caller has one that is not taken."""
        record: Any = self.record(
            **content,
            id=id or new_id(),
            created_at=scope.now,
            updated_at=scope.now,
            revision=1,
            deleted_at=None,
        )
        scope.insert_record(self.table, record)
        self._announce(scope, "created", record.id, 1)
        return record  # type: ignore[no-any-return]

    def put(
        self, scope: ShopScope, id: UUID, content: dict[str, Any], revision: int | None
    ) -> tuple[Record, bool]:
        """Make the thing under the client's id or bring it to this content; and whether it is new.

        Repeating it changes nothing. Replacing another content needs the revision that was read
        (RevisionNeeded, StaleRevision). A deleted thing is a Conflict: restore it first.
        """
        found: Any = scope.find(self.record, self.table, id=id)
        if found is None:
            if revision is not None:
                raise NotFound(self.name)
            return self.create(scope, content, id), True
        if found.deleted_at is not None:
            raise Conflict(f"The {self.name} was deleted; restore it first.")
        if all(getattr(found, name) == value for name, value in content.items()):
            return found, False
        if revision is None:
            raise RevisionNeeded(found.revision)
        return self.change(scope, id, revision, content), False

    def change(self, scope: ShopScope, id: UUID, revision: int, content: dict[str, Any]) -> Record:
        """Change the thing if its revision is still this one; else NotFound or StaleRevision."""
        if not scope.change(self.table, id, revision, content):
            current: Any = self.get(scope, id)
            raise StaleRevision(current.revision)
        self._announce(scope, "updated", id, revision + 1)
        return self.get(scope, id)

    def delete(self, scope: ShopScope, id: UUID, revision: int) -> None:
        """Delete the thing softly if its revision is still this one."""
        if not scope.change(self.table, id, revision, {"deleted_at": scope.now}):
            current: Any = self.get(scope, id)
            raise StaleRevision(current.revision)
        self._announce(scope, "deleted", id, revision + 1)

    def restore(self, scope: ShopScope, id: UUID) -> Record:
        """Bring a deleted thing back; one that is there already is left as it is."""
        found: Any = scope.find(self.record, self.table, id=id)
        if found is None:
            raise NotFound(self.name)
        if found.deleted_at is not None:
            values = {"deleted_at": None}
            if not scope.change(self.table, id, found.revision, values, deleted=True):
                raise Conflict("It was changed at the same moment; try again.")
            self._announce(scope, "restored", id, found.revision + 1)
        return self.get(scope, id)

    def _announce(self, scope: ShopScope, what: str, id: UUID, revision: int) -> None:
        data = msgspec.json.encode({"id": id, "revision": revision})
        scope.announce(f"{self.name}.{what}", f"{self.name}/{id}", data)
