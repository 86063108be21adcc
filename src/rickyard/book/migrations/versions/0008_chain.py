"""The chain over the journal: every entry sealed with a hash that hangs on the one before it.

Revision ID: 0008
"""

import sqlalchemy as sa
from alembic import op

from rickyard.book import chain
from rickyard.book.migrations import triggers

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "entry_link",
        sa.Column("entry_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("previous", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("reason_salt", sa.String(length=32), nullable=False),
        sa.Column("reason_hash", sa.String(length=64), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_entry_link_number_from_one")),
        sa.CheckConstraint("length(hash) = 64", name=op.f("ck_entry_link_hash_whole")),
        sa.CheckConstraint(
            "(reason_hash = '') = (reason_salt = '')", name=op.f("ck_entry_link_reason_with_salt")
        ),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_entry_link_entry_id_entry")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_entry_link_yard_id_yard")),
        sa.PrimaryKeyConstraint("entry_id", name=op.f("pk_entry_link")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_entry_link_yard_id")),
        sa.UniqueConstraint("yard_id", "previous", name=op.f("uq_entry_link_previous")),
    )
    op.create_index(op.f("ix_entry_link_yard_id"), "entry_link", ["yard_id"], unique=False)
    chain.seal_all(op.get_bind())
    # Only now: what an earlier version wrote is sealed as it is, and `book check` says what is wrong with it.
    triggers.protect(op.get_bind(), ("entry_link",))
    triggers.seal(op.get_bind())


def downgrade() -> None:
    triggers.unseal(op.get_bind())
    op.drop_index(op.f("ix_entry_link_yard_id"), table_name="entry_link")
    op.drop_table("entry_link")
