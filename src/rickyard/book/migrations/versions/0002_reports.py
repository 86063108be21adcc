"""Reports from the yard: clashes, photos, one name for one person, and which measures the journal followed.

None of the new tables is append-only: a clash is settled later, and a photo may have to be taken out.

Revision ID: 0002
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("ix_person_name", "person", ["yard_id", "name"], unique=True)
    _measures_say_whether_the_book_followed()
    op.create_table(
        "clash",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("subject_kind", sa.String(length=8), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("msgid", sa.String(length=600), nullable=False),
        sa.Column("sentence_values", sa.JSON(), nullable=False),
        sa.Column("raised_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("settled_deed_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.CheckConstraint("subject_kind IN ('stack', 'reading')", name=op.f("ck_clash_subject_kind_known")),
        sa.CheckConstraint(
            "(settled_at IS NULL) = (settled_deed_id IS NULL)", name=op.f("ck_clash_settled_by_a_deed")
        ),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_clash_deed_id_deed")),
        sa.ForeignKeyConstraint(["settled_deed_id"], ["deed.id"], name=op.f("fk_clash_settled_deed_id_deed")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_clash_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clash")),
    )
    op.create_index(op.f("ix_clash_deed_id"), "clash", ["deed_id"], unique=False)
    op.create_index(op.f("ix_clash_yard_id"), "clash", ["yard_id"], unique=False)
    op.create_index("ix_clash_subject", "clash", ["yard_id", "subject_kind", "subject_id"], unique=False)
    op.create_table(
        "photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("media_type", sa.String(length=20), nullable=False),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("subject_kind", sa.String(length=8), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.Column("latitude_deg", sa.Double(), nullable=True),
        sa.Column("longitude_deg", sa.Double(), nullable=True),
        sa.CheckConstraint(
            "subject_kind IN ('load', 'stack', 'reading', 'ticket', 'yard')",
            name=op.f("ck_photo_subject_kind_known"),
        ),
        sa.CheckConstraint(
            "media_type IN ('image/jpeg', 'image/png', 'image/webp')", name=op.f("ck_photo_media_type_known")
        ),
        sa.CheckConstraint(
            "size_bytes > 0 AND width_px > 0 AND height_px > 0", name=op.f("ck_photo_size_positive")
        ),
        sa.CheckConstraint(
            "latitude_deg >= -90 AND latitude_deg <= 90", name=op.f("ck_photo_latitude_on_earth")
        ),
        sa.CheckConstraint(
            "longitude_deg >= -180 AND longitude_deg <= 180", name=op.f("ck_photo_longitude_on_earth")
        ),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_photo_deed_id_deed")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_photo_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    op.create_index(op.f("ix_photo_deed_id"), "photo", ["deed_id"], unique=False)
    op.create_index(op.f("ix_photo_sha256"), "photo", ["sha256"], unique=False)
    op.create_index(op.f("ix_photo_yard_id"), "photo", ["yard_id"], unique=False)
    op.create_index("ix_photo_subject", "photo", ["yard_id", "subject_kind", "subject_id"], unique=False)


def downgrade() -> None:
    op.drop_index("ix_photo_subject", table_name="photo")
    op.drop_index(op.f("ix_photo_yard_id"), table_name="photo")
    op.drop_index(op.f("ix_photo_sha256"), table_name="photo")
    op.drop_index(op.f("ix_photo_deed_id"), table_name="photo")
    op.drop_table("photo")
    op.drop_index("ix_clash_subject", table_name="clash")
    op.drop_index(op.f("ix_clash_yard_id"), table_name="clash")
    op.drop_index(op.f("ix_clash_deed_id"), table_name="clash")
    op.drop_table("clash")
    with op.batch_alter_table("stack_measure") as table:
        table.drop_column("stock_taking")
    op.drop_index("ix_person_name", table_name="person")


def _measures_say_whether_the_book_followed() -> None:
    """Until now the first measure of a stack was taken with the stacking, and the book followed all later ones."""
    with op.batch_alter_table("stack_measure") as table:
        table.add_column(sa.Column("stock_taking", sa.Boolean(), nullable=True))
    measure = sa.table(
        "stack_measure",
        sa.column("id", sa.Integer()),
        sa.column("stack_id", sa.Integer()),
        sa.column("stock_taking", sa.Boolean()),
    )
    first = sa.select(sa.func.min(measure.c.id)).group_by(measure.c.stack_id).scalar_subquery()
    op.execute(measure.update().values(stock_taking=measure.c.id.not_in(first)))
    with op.batch_alter_table("stack_measure") as table:
        table.alter_column("stock_taking", existing_type=sa.Boolean(), nullable=False)
