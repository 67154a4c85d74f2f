"""Runs revisions on the connection that `service.store.migration` hands over.

On PostgreSQL every table forces row-level security, on its owner too. A revision that moves data
must lift it for its own transaction (ALTER TABLE ... NO FORCE ROW LEVEL SECURITY, and back).
A revision that locks or rewrites a table which grows (vehicles, visits, rounds, events,
deliveries, kept answers) names it after "Locks:" in its docstring, with how long it took on how
many rows; a test holds it to that. On SQLite `op.batch_alter_table` builds a table anew, without
the triggers it had: a revision that does so to a table of rows that never change makes them again.
"""

from alembic import context

from service.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    compare_type=True,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
