"""Runs the migrations on the connection that `migrating` hands over, inside its transaction."""

from alembic import context

from estimator.records.model_base import Base

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=Base.metadata, transactional_ddl=True)
context.run_migrations()
