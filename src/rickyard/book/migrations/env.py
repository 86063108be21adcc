"""What Alembic runs: the migrations, on the connection and in the transaction it was handed."""

from alembic import context

from rickyard.book.migrations import VERSION_TABLE
from rickyard.book.models import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    version_table=VERSION_TABLE,
    render_as_batch=True,
    compare_type=True,
)
with context.begin_transaction():
    context.run_migrations()
