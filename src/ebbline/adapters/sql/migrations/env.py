"""Run migrations on the connection and in the transaction that `migrate.bring_up` hands over."""

from alembic import context

connection = context.config.attributes["connection"]
context.configure(connection=connection, transactional_ddl=False)
context.run_migrations()
