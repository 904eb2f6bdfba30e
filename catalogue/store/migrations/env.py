"""Run the migrations on the connection that the store hands over."""

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    transactional_ddl=False,
    transaction_per_migration=False,
)
context.run_migrations()
