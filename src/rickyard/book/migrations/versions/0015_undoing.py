"""What was entered wrongly and taken back: tickets, payments, loads, stacks.

Revision ID: 0015
"""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

UNDONE = ("ticket", "payment", "load", "stack")
OF_ONE = " + ".join(f"CASE WHEN {name}_id IS NULL THEN 0 ELSE 1 END" for name in UNDONE) + " = 1"


def upgrade() -> None:
    op.create_table(
        "undoing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("undone_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        *(sa.Column(f"{name}_id", sa.Integer(), nullable=True) for name in UNDONE),
        sa.CheckConstraint(OF_ONE, name=op.f("ck_undoing_of_one")),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_undoing_reason_given")),
        *(
            sa.ForeignKeyConstraint([f"{name}_id"], [f"{name}.id"], name=op.f(f"fk_undoing_{name}_id_{name}"))
            for name in ("yard", "deed", *UNDONE)
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_undoing")),
        *(sa.UniqueConstraint(f"{name}_id", name=op.f(f"uq_undoing_{name}_id")) for name in UNDONE),
    )
    for name in ("yard_id", "deed_id"):
        op.create_index(op.f(f"ix_undoing_{name}"), "undoing", [name], unique=False)


def downgrade() -> None:
    """What was taken back stays reversed in the journal; that its ticket, load or stack is void is forgotten."""
    op.drop_table("undoing")
