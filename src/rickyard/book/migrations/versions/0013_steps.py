"""Timed work says which step it was; cut sheets say whether pieces may hold a small core.

Revision ID: 0013
"""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

STEPS = "step IN ('sawing', 'splitting', 'stacking', 'loading', 'delivering')"
METHOD = "(step = 'splitting') = (method <> '')"


def upgrade() -> None:
    """Until now only splitting was timed, and small cores ran through the pieces of every sheet."""
    with op.batch_alter_table("work_session") as table:
        table.add_column(sa.Column("step", sa.String(length=12), nullable=False, server_default="splitting"))
        table.create_check_constraint(op.f("ck_work_session_step_known"), STEPS)
        table.create_check_constraint(op.f("ck_work_session_method_of_splitting"), METHOD)
    with op.batch_alter_table("work_session") as table:
        table.alter_column("step", server_default=None)
    with op.batch_alter_table("cut_sheet") as table:
        table.add_column(sa.Column("small_cores", sa.Boolean(), nullable=False, server_default=sa.true()))
    with op.batch_alter_table("cut_sheet") as table:
        table.alter_column("small_cores", server_default=None)


def downgrade() -> None:
    """What the tables of before could not hold is given up: hours of other steps than splitting."""
    with op.batch_alter_table("cut_sheet") as table:
        table.drop_column("small_cores")
    session = sa.table("work_session", sa.column("step", sa.String()))
    op.execute(session.delete().where(session.c.step != "splitting"))
    with op.batch_alter_table("work_session") as table:
        table.drop_constraint(op.f("ck_work_session_method_of_splitting"), type_="check")
        table.drop_constraint(op.f("ck_work_session_step_known"), type_="check")
        table.drop_column("step")
