"""Seals of deeds, papers and measures; a reason can be taken out.

What is in the book is sealed as it is: for rows written before, the seals prove that nothing changed since now.

Revision ID: 0016
"""

import sqlalchemy as sa
from alembic import op

from rickyard.book import seals
from rickyard.book.migrations import triggers

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

REASON = "ck_entry_link_reason_with_salt"


def upgrade() -> None:
    op.create_table(
        "row_link",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("previous", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_row_link_number_from_one")),
        sa.CheckConstraint("length(hash) = 64", name=op.f("ck_row_link_hash_whole")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_row_link_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_row_link")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_row_link_yard_id")),
        sa.UniqueConstraint("yard_id", "previous", name=op.f("uq_row_link_previous")),
    )
    op.create_index(op.f("ix_row_link_yard_id"), "row_link", ["yard_id"], unique=False)
    op.create_table(
        "row_seal",
        sa.Column("table_name", sa.String(length=24), nullable=False),
        sa.Column("row_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("link_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("salt", sa.String(length=32), nullable=False),
        sa.Column("words_hash", sa.String(length=64), nullable=False),
        sa.CheckConstraint("length(hash) = 64", name=op.f("ck_row_seal_hash_whole")),
        sa.CheckConstraint("words_hash <> '' OR salt = ''", name=op.f("ck_row_seal_salt_with_words")),
        sa.ForeignKeyConstraint(["link_id"], ["row_link.id"], name=op.f("fk_row_seal_link_id_row_link")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_row_seal_yard_id_yard")),
        sa.PrimaryKeyConstraint("table_name", "row_id", "link_id", name=op.f("pk_row_seal")),
    )
    op.create_index("ix_row_seal_link", "row_seal", ["link_id"], unique=False)
    bind = op.get_bind()
    triggers.unprotect(bind)
    triggers.unseal(bind)
    with op.batch_alter_table("entry_link") as batch:
        batch.drop_constraint(op.f(REASON), type_="check")
        batch.create_check_constraint(op.f(REASON), "reason_hash <> '' OR reason_salt = ''")
    seals.seal_present(bind)
    triggers.protect(bind)


def downgrade() -> None:
    bind = op.get_bind()
    triggers.unprotect(bind)
    triggers.unseal(bind)
    op.drop_index("ix_row_seal_link", table_name="row_seal")
    op.drop_table("row_seal")
    op.drop_index(op.f("ix_row_link_yard_id"), table_name="row_link")
    op.drop_table("row_link")
    # The version before knows no reason that was taken out: its hash goes too, and check will say so there.
    op.execute("UPDATE entry_link SET reason_hash = '' WHERE reason_salt = ''")
    with op.batch_alter_table("entry_link") as batch:
        batch.drop_constraint(op.f(REASON), type_="check")
        batch.create_check_constraint(op.f(REASON), "(reason_hash = '') = (reason_salt = '')")
    triggers.protect(bind)
