"""Timed splitting may say how thick its pieces were.

Revision ID: 0018
"""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Of what was timed before nobody said: it stays unknown, but for what its splitting sheet tells."""
    with op.batch_alter_table("work_session") as table:
        table.add_column(sa.Column("thickness_m", sa.Double(), nullable=True))
        table.create_check_constraint(op.f("ck_work_session_thickness_positive"), "thickness_m > 0")


def downgrade() -> None:
    """How thick the pieces were is given up; the hours stay."""
    with op.batch_alter_table("work_session") as table:
        table.drop_constraint(op.f("ck_work_session_thickness_positive"), type_="check")
        table.drop_column("thickness_m")
