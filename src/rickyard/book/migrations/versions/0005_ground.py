"""What a stack stands on: raised, or the bare soil.

Revision ID: 0005
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Until now every stack was taken to stand raised, as a careful yard stacks."""
    with op.batch_alter_table("stack") as table:
        table.add_column(sa.Column("ground", sa.String(length=8), nullable=False, server_default="raised"))
        table.create_check_constraint(op.f("ck_stack_ground_known"), "ground IN ('raised', 'soil')")
    with op.batch_alter_table("stack") as table:
        table.alter_column("ground", server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("stack") as table:
        table.drop_constraint(op.f("ck_stack_ground_known"), type_="check")
        table.drop_column("ground")
