"""Clashes may be about a load; a deed keeps when its client said it happened.

Revision ID: 0017
"""

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

OLD_SUBJECTS = "subject_kind IN ('stack', 'reading')"
NEW_SUBJECTS = "subject_kind IN ('stack', 'reading', 'load')"


def upgrade() -> None:
    """Deeds of before do not know what was said; their keys are compared without it, as they were."""
    # Without rebuilding the table, so that what protects it stays.
    op.add_column("deed", sa.Column("told_at", sa.DateTime(timezone=True), nullable=True))
    _clashes_may_be_of(NEW_SUBJECTS)


def downgrade() -> None:
    """Clashes of loads are lost."""
    clash = sa.table("clash", sa.column("subject_kind", sa.String()))
    op.execute(clash.delete().where(clash.c.subject_kind == "load"))
    _clashes_may_be_of(OLD_SUBJECTS)
    op.drop_column("deed", "told_at")


def _clashes_may_be_of(condition: str) -> None:
    name = op.f("ck_clash_subject_kind_known")
    with op.batch_alter_table("clash") as table:
        table.drop_constraint(name, type_="check")
        table.create_check_constraint(name, condition)
