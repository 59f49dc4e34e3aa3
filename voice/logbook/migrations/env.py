"""Runs the migrations on the connection that voice.logbook.database hands over; there is no alembic.ini."""

from alembic import context

from voice.logbook.schema import RecordRow

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=RecordRow.metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
