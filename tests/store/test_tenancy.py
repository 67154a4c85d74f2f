"""A shop never sees, finds or changes another's rows, and the code cannot forget the shop."""

from uuid import uuid4

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import make_url
from stored import vehicle

from service.store import tables
from service.store.binding import of_shop
from service.store.database import Store, open_store
from service.store.errors import NotFound
from service.store.migration import migrate
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


async def test_an_owner_without_privileges_is_walled_in_too(postgres_url: str) -> None:
    """A plain login that owns the tables needs no other role: the policies are forced on it."""
    admin = engine_of(postgres_url)
    async with admin.connect() as connection:
        raw = await connection.execution_options(isolation_level="AUTOCOMMIT")
        await raw.exec_driver_sql("CREATE ROLE plain_owner LOGIN")
        await raw.exec_driver_sql("CREATE DATABASE plain OWNER plain_owner")
    url = make_url(postgres_url).set(username="plain_owner", database="plain")
    plain = url.render_as_string(hide_password=False)
    store = open_store(plain)
    try:
        await migrate(plain)
        await store.open()
        one = await store.create_shop("One (invented)")
        two = await store.create_shop("Two (invented)")
        made = await store.write(one, lambda s: VEHICLES.create(s, vehicle()))
        assert await store.read(one, lambda s: VEHICLES.get(s, made.id)) == made
        assert await store.every_shop() == [one, two]

        def raw_count(scope: ShopScope) -> int:
            text = sa.text("SELECT count(*) FROM vehicles")
            return int(scope._connection.execute(text).scalar_one())

        assert await store.read(one, raw_count) == 1
        assert await store.read(two, raw_count) == 0
    finally:
        await store.close()
        async with admin.connect() as connection:
            raw = await connection.execution_options(isolation_level="AUTOCOMMIT")
            await raw.exec_driver_sql("DROP DATABASE plain")
            await raw.exec_driver_sql("DROP ROLE plain_owner")
        await admin.dispose()


def test_a_record_has_no_shop_to_leak() -> None:
    assert "shop_id" not in VehicleRecord.__struct_fields__
