"""A measure of a stack may be taken back; what happened since a day is found by an index.

Revision ID: 0019
"""

import sqlalchemy as sa
from alembic import op

from rickyard.book.migrations import triggers

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

UNDONE = ("ticket", "payment", "load", "stack")
CHECK = "ck_undoing_of_one"


def upgrade() -> None:
    """What was taken back before was no measure, so the column is empty there and the seals hold."""
    triggers.unprotect(op.get_bind(), ("undoing",))
    with op.batch_alter_table("undoing") as table:
        table.add_column(sa.Column("measure_id", sa.Integer(), nullable=True))
        table.create_foreign_key(
            op.f("fk_undoing_measure_id_stack_measure"), "stack_measure", ["measure_id"], ["id"]
        )
        table.create_unique_constraint(op.f("uq_undoing_measure_id"), ["measure_id"])
        table.drop_constraint(op.f(CHECK), type_="check")
        table.create_check_constraint(op.f(CHECK), _of_one(*UNDONE, "measure"))
    triggers.protect(op.get_bind(), ("undoing",))
    op.create_index("ix_entry_happened", "entry", ["yard_id", "happened_at"], unique=False)


def downgrade() -> None:
    """That a measure was taken back is forgotten: check finds its seal without a row. The journal stays reversed."""
    op.drop_index("ix_entry_happened", table_name="entry")
    bind = op.get_bind()
    triggers.unprotect(bind, ("undoing",))
    op.execute("DELETE FROM undoing WHERE measure_id IS NOT NULL")
    with op.batch_alter_table("undoing") as table:
        table.drop_constraint(op.f(CHECK), type_="check")
        table.create_check_constraint(op.f(CHECK), _of_one(*UNDONE))
        table.drop_constraint(op.f("uq_undoing_measure_id"), type_="unique")
        table.drop_constraint(op.f("fk_undoing_measure_id_stack_measure"), type_="foreignkey")
        table.drop_column("measure_id")
    triggers.protect(bind, ("undoing",))


def _of_one(*names: str) -> str:
    return " + ".join(f"CASE WHEN {name}_id IS NULL THEN 0 ELSE 1 END" for name in names) + " = 1"
