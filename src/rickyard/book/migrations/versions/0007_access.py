"""Passwords, sign-ins, failed tries, links of households.

Revision ID: 0007
"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "password",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("argon2", sa.String(length=200), nullable=False),
        sa.Column("set_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_password_person_id_person")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_password_yard_id_yard")),
        sa.PrimaryKeyConstraint("person_id", name=op.f("pk_password")),
    )
    op.create_index(op.f("ix_password_yard_id"), "password", ["yard_id"], unique=False)
    op.create_table(
        "sign_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("device", sa.String(length=120), nullable=False),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_sign_in_yard_id_yard")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_sign_in_token_sha256")),
    )
    for column in ("yard_id", "person_id"):
        op.create_index(op.f(f"ix_sign_in_{column}"), "sign_in", [column], unique=False)
    op.create_table(
        "sign_in_try",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("of", sa.String(length=64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("kind IN ('pair', 'name', 'address')", name=op.f("ck_sign_in_try_kind_known")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_sign_in_try_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in_try")),
    )
    op.create_index("ix_sign_in_try_of", "sign_in_try", ["yard_id", "kind", "of", "at"], unique=False)
    op.create_table(
        "household_link",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("household_id", sa.Integer(), nullable=False),
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_household_link_yard_id_yard")),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_household_link_household_id_household")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_household_link")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_household_link_token_sha256")),
    )
    for column in ("yard_id", "household_id"):
        op.create_index(op.f(f"ix_household_link_{column}"), "household_link", [column], unique=False)


def downgrade() -> None:
    """Passwords, sign-ins and links are lost: the book is open to whoever reaches it."""
    for table in ("household_link", "sign_in_try", "sign_in", "password"):
        op.drop_table(table)
