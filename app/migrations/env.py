"""Runs the migrations on the connection that `app.schema` hands over."""

from alembic import context

connection = context.config.attributes["connection"]

context.configure(
    connection=connection,
    target_metadata=context.config.attributes.get("metadata"),
    # SQLite cannot alter most things in place: Alembic copies the table instead.
    render_as_batch=connection.dialect.name == "sqlite",
    compare_type=True,
)
context.run_migrations()
