"""A shop's own target sets and rate cards: a change is a new version, and every version stays."""

from datetime import datetime

import msgspec
import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.errors import Conflict, NotFound, RevisionNeeded, StaleRevision
from service.store.pages import NUL
from service.store.scope import ShopScope
from service.store.tables import rate_card_versions, rate_cards, target_set_versions, target_sets


class Head(msgspec.Struct):
    """A name, its newest version and whether it is still offered."""

    name: str
    version: int
    created_at: datetime
    updated_at: datetime
    revision: int
    deleted_at: datetime | None


class Version(msgspec.Struct):
    """One version; `document` is JSON as the door encoded it."""

    name: str
    version: int
    document: bytes
    created_at: datetime


class Versioned:
    """Documents of a shop that are found by name and version."""

    def __init__(self, called: str, heads: sa.Table, versions: sa.Table) -> None:
        self.called = called
        self.heads = heads
        self.versions = versions
        newest = sa.and_(
            heads.c.shop_id == versions.c.shop_id,
            heads.c.name == versions.c.name,
            heads.c.version == versions.c.version,
        )
        self._newest = of_shop(
            sa.select(*[versions.c[name] for name in Version.__struct_fields__])
            .select_from(heads.join(versions, newest))
            .where(heads.c.deleted_at.is_(None))
            .order_by(heads.c.name)
        )

    def head(self, scope: ShopScope, name: str) -> Head:
        """The name and its newest version; NotFound if it is not there or was withdrawn."""
        found = None if NUL in name else scope.find(Head, self.heads, name=name)
        if found is None or found.deleted_at is not None:
            raise NotFound(self.called)
        return found

    def newest(self, scope: ShopScope, name: str) -> Version:
        """The newest version of a name that is offered."""
        return self.version(scope, name, self.head(scope, name).version)

    def version(self, scope: ShopScope, name: str, number: int) -> Version:
        """One version, of a withdrawn name too: stored rounds go on naming it."""
        found = scope.find(Version, self.versions, name=name, version=number)
        if found is None:
            raise NotFound(self.called)
        return found

    def all(self, scope: ShopScope) -> list[Version]:
        """The newest version of every name that is offered, by name."""
        return scope.rows(Version, self._newest)

    def put(
        self, scope: ShopScope, name: str, document: bytes, revision: int | None
    ) -> tuple[Version, bool]:
        """Store the document as the first or next version; and whether anything is new.

        The newest document again changes nothing. Another one needs the revision that was read.
        """
        head = scope.find(Head, self.heads, name=name)
        if head is None:
            if revision is not None:
                raise NotFound(self.called)
            times = {"created_at": scope.now, "updated_at": scope.now, "deleted_at": None}
            scope.insert(self.heads, {"name": name, "version": 1, "revision": 1, **times})
            return self._add(scope, name, 1, document), True
        if head.deleted_at is not None:
            raise Conflict(f"The {self.called} was withdrawn; restore it first.")
        newest = self.version(scope, name, head.version)
        if newest.document == document:
            return newest, False
        if revision is None:
            raise RevisionNeeded(head.revision)
        number = head.version + 1
        if not scope.change(self.heads, name, revision, {"version": number}, key="name"):
            raise StaleRevision(self.head(scope, name).revision)
        return self._add(scope, name, number, document), True

    def withdraw(self, scope: ShopScope, name: str, revision: int) -> None:
        """Offer the name no longer; its versions stay, for what was judged or billed by them."""
        gone = {"deleted_at": scope.now}
        if not scope.change(self.heads, name, revision, gone, key="name"):
            raise StaleRevision(self.head(scope, name).revision)
        self._announce(scope, "withdrawn", name, None)

    def restore(self, scope: ShopScope, name: str) -> Version:
        """Offer a withdrawn name again; one that is offered is left as it is."""
        head = scope.find(Head, self.heads, name=name)
        if head is None:
            raise NotFound(self.called)
        if head.deleted_at is not None:
            back = {"deleted_at": None}
            scope.change(self.heads, name, head.revision, back, key="name", deleted=True)
            self._announce(scope, "restored", name, head.version)
        return self.newest(scope, name)

    def _add(self, scope: ShopScope, name: str, number: int, document: bytes) -> Version:
        version = Version(name, number, document, scope.now)
        scope.insert_record(self.versions, version)
        self._announce(scope, "created" if number == 1 else "updated", name, number)
        return version

    def _announce(self, scope: ShopScope, what: str, name: str, number: int | None) -> None:
        kind = self.called.replace(" ", "_")
        data = msgspec.json.encode({"id": name, "version": number})
        scope.announce(f"{kind}.{what}", f"{kind}/{name}", data)


TARGET_SETS = Versioned("target set", target_sets, target_set_versions)
RATE_CARDS = Versioned("rate card", rate_cards, rate_card_versions)
