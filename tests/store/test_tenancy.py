"""A shop never sees, finds or changes another's rows, and the code cannot forget the shop."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from uuid import uuid4

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import make_url
from stored import vehicle

from service.store import tables
from service.store.binding import of_shop
from service.store.database import Store, open_store
from service.store.errors import NotFound
from service.store.migration import migrate, migrate_check
from service.store.postgres import ROLE, engine_of
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLE_LIST, VEHICLES, VehicleRecord

pytestmark = pytest.mark.anyio

EVERY_TABLE = tables.metadata.sorted_tables


async def test_another_shop_finds_nothing(store: Store) -> None:
    one, two = await store.create_shop("One (invented)"), await store.create_shop("Two (invented)")
    made = await store.write(one, lambda s: VEHICLES.create(s, vehicle()))
    assert (await store.read(two, lambda s: VEHICLE_LIST.page(s, {}))).items == []
    with pytest.raises(NotFound):
        await store.read(two, lambda s: VEHICLES.get(s, made.id))
    with pytest.raises(NotFound):
        await store.write(two, lambda s: VEHICLES.change(s, made.id, 1, {"unit_number": "x"}))
    with pytest.raises(NotFound):
        await store.write(two, lambda s: VEHICLES.delete(s, made.id, 1))


async def test_two_shops_may_use_one_id(store: Store) -> None:
    """A client-made id that another shop has too is neither refused nor seen."""
    one, two = await store.create_shop("One (invented)"), await store.create_shop("Two (invented)")
    id = uuid4()
    await store.write(one, lambda s: VEHICLES.put(s, id, vehicle("1"), None))
    _, new = await store.write(two, lambda s: VEHICLES.put(s, id, vehicle("2"), None))
    assert new
    assert (await store.read(one, lambda s: VEHICLES.get(s, id))).unit_number == "1"


@pytest.mark.parametrize("table", EVERY_TABLE, ids=lambda table: table.name)
def test_every_key_and_index_leads_with_the_shop(table: sa.Table) -> None:
    assert next(iter(table.primary_key.columns)).name == "shop_id"
    for index in table.indexes:
        assert next(iter(index.columns)).name == "shop_id"
    for constraint in table.constraints:
        if isinstance(constraint, sa.UniqueConstraint | sa.ForeignKeyConstraint):
            assert next(iter(constraint.columns)).name == "shop_id"


def test_every_table_of_a_statement_is_bound() -> None:
    joined = tables.visits.join(tables.vehicles, tables.vehicles.c.id == tables.visits.c.vehicle_id)
    text = str(of_shop(sa.select(tables.visits.c.id).select_from(joined)).statement)
    assert "visits.shop_id = :shop" in text
    assert "vehicles.shop_id = :shop" in text


def test_a_nested_select_without_a_shop_is_refused() -> None:
    nested = sa.select(tables.vehicles.c.id)
    with pytest.raises(ValueError, match="vehicles is not bound"):
        of_shop(sa.select(tables.visits).where(tables.visits.c.vehicle_id.in_(nested)))
    with pytest.raises(ValueError, match="vehicles is not bound"):
        of_shop(sa.select(nested.subquery()))
    with pytest.raises(ValueError, match="cannot be bound"):
        of_shop(sa.select(tables.vehicles.alias("other")))


def test_a_shop_named_only_in_one_branch_of_an_or_is_refused() -> None:
    from service.store.binding import SHOP

    either = sa.or_(tables.vehicles.c.shop_id == SHOP, tables.vehicles.c.vin.is_(None))
    nested = sa.select(tables.vehicles.c.id).where(either)
    with pytest.raises(ValueError, match="not bound"):
        of_shop(sa.select(tables.visits).where(tables.visits.c.vehicle_id.in_(nested)))


async def test_a_scope_writes_rows_of_its_own_shop_only(store: Store) -> None:
    shop = await store.create_shop("One (invented)")
    row = {"shop_id": uuid4(), "name": "event2", "last": 0}
    with pytest.raises(ValueError, match="own shop"):
        await store.write(shop, lambda s: s.insert(tables.counters, row))


async def test_row_security_hides_every_shop_but_the_one_named(migrated_postgres_url: str) -> None:
    """The second wall stands by itself: raw SQL without a shop in it finds one shop's rows only."""
    store = open_store(migrated_postgres_url)
    await store.open()
    one, two = await store.create_shop("One (invented)"), await store.create_shop("Two (invented)")
    for shop in (one, two):
        await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    await store.close()
    engine = engine_of(migrated_postgres_url)
    async with engine.begin() as connection:
        await connection.exec_driver_sql(f"SET LOCAL ROLE {ROLE}")
        count = sa.text("SELECT count(*), count(DISTINCT shop_id) FROM vehicles")
        assert tuple((await connection.execute(count)).one()) == (0, 0)
        named = sa.text("SELECT set_config('axlewright.shop_id', :shop, true)")
        await connection.execute(named, {"shop": str(one)})
        assert tuple((await connection.execute(count)).one()) == (1, 1)
        foreign = sa.text("UPDATE vehicles SET vin = 'x' WHERE shop_id = :two")
        assert (await connection.execute(foreign, {"two": two})).rowcount == 0
        with pytest.raises(sa.exc.DBAPIError, match="row-level security"):
            await connection.execute(
                sa.insert(tables.counters), {"shop_id": two, "name": "mine", "last": 1}
            )
    await engine.dispose()


async def test_row_security_is_forced_on_every_table(migrated_postgres_url: str) -> None:
    engine = engine_of(migrated_postgres_url)
    query = "SELECT relname FROM pg_class WHERE relforcerowsecurity AND relrowsecurity"
    async with engine.connect() as connection:
        forced = set((await connection.execute(sa.text(query))).scalars())
    await engine.dispose()
    assert forced == {table.name for table in EVERY_TABLE}


@asynccontextmanager
async def plain_login(admin_url: str, *, owns: bool) -> AsyncIterator[str]:
    """URL of a new migrated database for a login without privileges.

    The login owns the database, or it is a member of the role that the migration makes.
    """
    name = f"plain_{uuid4().hex}"
    admin = engine_of(admin_url)
    async with admin.connect() as connection:
        raw = await connection.execution_options(isolation_level="AUTOCOMMIT")
        await raw.exec_driver_sql(f"CREATE ROLE {name} LOGIN")
        await raw.exec_driver_sql(f"CREATE DATABASE {name}" + (f" OWNER {name}" if owns else ""))
        url = make_url(admin_url).set(database=name)
        plain = url.set(username=name).render_as_string(hide_password=False)
        owner = plain if owns else url.render_as_string(hide_password=False)
        try:
            await migrate(owner)
            if not owns:
                await raw.exec_driver_sql(f"GRANT {ROLE} TO {name}")
            yield plain
        finally:
            await raw.exec_driver_sql(f"DROP DATABASE {name}")
            await raw.exec_driver_sql(f"DROP ROLE {name}")
    await admin.dispose()


@pytest.mark.parametrize("owns", [True, False], ids=["owner", "member of the role"])
async def test_a_plain_login_is_walled_in(postgres_url: str, owns: bool) -> None:
    """It steps down to nothing, for the policies hold for it, be it the tables' owner or not."""
    async with plain_login(postgres_url, owns=owns) as plain:
        assert await migrate_check(plain) is None, "readiness asks for it"
        store = open_store(plain)
        await store.open()
        one = await store.create_shop("One (invented)")
        two = await store.create_shop("Two (invented)")
        made = await store.write(one, lambda s: VEHICLES.create(s, vehicle()))
        assert await store.read(one, lambda s: VEHICLES.get(s, made.id)) == made
        assert await store.every_shop() == [one, two]

        def raw_count(scope: ShopScope) -> tuple[str, int]:
            text = sa.text("SELECT current_user, count(*) FROM vehicles")
            return tuple(scope._connection.execute(text).one())  # type: ignore[return-value]

        login = make_url(plain).username
        assert await store.read(one, raw_count) == (login, 1)
        assert await store.read(two, raw_count) == (login, 0)
        await store.close()


async def test_a_login_that_may_nothing_is_told_nothing(postgres_url: str) -> None:
    """A login outside of the role reaches no table, and the service says so as a fault of ours."""
    async with plain_login(postgres_url, owns=False) as plain:
        admin = engine_of(postgres_url)
        async with admin.begin() as connection:
            await connection.exec_driver_sql(f"REVOKE {ROLE} FROM {make_url(plain).username}")
        await admin.dispose()
        store = open_store(plain)
        await store.open()
        with pytest.raises(sa.exc.ProgrammingError, match="permission denied"):
            await store.every_shop()
        await store.close()


async def test_a_superuser_would_see_through_the_wall(migrated_postgres_url: str) -> None:
    """Why the service steps down: policies do not hold for a superuser (PostgreSQL, 5.9).

    Where the tests' login is one, the same count without a shop sees every shop's rows.
    """
    store = open_store(migrated_postgres_url)
    await store.open()
    shop = await store.create_shop("One (invented)")
    await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    await store.close()
    engine = engine_of(migrated_postgres_url)
    async with engine.begin() as connection:
        above = "SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user"
        count = "SELECT count(*) FROM vehicles"
        super_user = (await connection.exec_driver_sql(above)).scalar_one()
        seen = (await connection.exec_driver_sql(count)).scalar_one()
    await engine.dispose()
    assert (seen > 0) is super_user


def test_a_record_has_no_shop_to_leak() -> None:
    assert "shop_id" not in VehicleRecord.__struct_fields__
