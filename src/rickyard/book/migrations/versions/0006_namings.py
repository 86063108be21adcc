"""Trees named: what was seen of them, what they turned out to be; photos of what was seen.

Neither table is append-only: a kept record may be used for a load later.

Revision ID: 0006
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

OLD_SUBJECTS = "subject_kind IN ('load', 'stack', 'reading', 'ticket', 'yard')"
NEW_SUBJECTS = "subject_kind IN ('load', 'stack', 'reading', 'ticket', 'yard', 'naming')"


def upgrade() -> None:
    op.create_table(
        "naming",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=True),
        sa.Column("logs", sa.JSON(), nullable=False),
        sa.Column("situations", sa.JSON(), nullable=False),
        sa.Column("answers", sa.JSON(), nullable=False),
        sa.Column("not_seen", sa.JSON(), nullable=False),
        sa.Column("region", sa.String(length=4), nullable=False),
        sa.Column("street", sa.Boolean(), nullable=False),
        sa.Column("counts", sa.JSON(), nullable=False),
        sa.Column("exponent", sa.Double(), nullable=False),
        sa.Column("tables", sa.String(length=12), nullable=False),
        sa.Column("level", sa.String(length=10), nullable=False),
        sa.Column("said", sa.String(length=60), nullable=False),
        sa.Column("odds", sa.Double(), nullable=False),
        sa.Column("leader", sa.String(length=8), nullable=False),
        sa.Column("leader_odds", sa.Double(), nullable=False),
        sa.Column("booked_was", sa.String(length=60), nullable=True),
        sa.Column("booked_as", sa.String(length=60), nullable=True),
        sa.Column("volume_m3", sa.Double(), nullable=True),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.CheckConstraint("level IN ('species', 'group', 'undecided')", name=op.f("ck_naming_level_known")),
        sa.CheckConstraint(
            "odds >= 0 AND odds <= 1 AND leader_odds >= 0 AND leader_odds <= 1",
            name=op.f("ck_naming_odds_are_share"),
        ),
        sa.CheckConstraint("exponent > 0", name=op.f("ck_naming_exponent_positive")),
        sa.CheckConstraint("volume_m3 >= 0", name=op.f("ck_naming_volume_not_negative")),
        sa.CheckConstraint(
            "booked_as IS NULL OR load_id IS NOT NULL", name=op.f("ck_naming_booked_in_a_load")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_naming_yard_id_yard")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_naming_deed_id_deed")),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name=op.f("fk_naming_load_id_load")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_naming")),
    )
    for column in ("yard_id", "deed_id", "load_id"):
        op.create_index(op.f(f"ix_naming_{column}"), "naming", [column], unique=False)
    op.create_table(
        "naming_truth",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("naming_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("key_id", sa.String(length=8), nullable=True),
        sa.Column("how", sa.String(length=8), nullable=False),
        sa.Column("by_whom", sa.String(length=120), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.CheckConstraint(
            "how IN ('leaf', 'wood', 'expert', 'known')", name=op.f("ck_naming_truth_how_known")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_naming_truth_yard_id_yard")),
        sa.ForeignKeyConstraint(["naming_id"], ["naming.id"], name=op.f("fk_naming_truth_naming_id_naming")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_naming_truth_deed_id_deed")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_naming_truth")),
    )
    for column in ("yard_id", "naming_id"):
        op.create_index(op.f(f"ix_naming_truth_{column}"), "naming_truth", [column], unique=False)
    _photos_may_be_of(NEW_SUBJECTS)


def downgrade() -> None:
    """What was seen is lost; its photos stay, with the load they belong to or else with the yard."""
    photo = sa.table(
        "photo",
        sa.column("yard_id", sa.Integer()),
        sa.column("subject_kind", sa.String()),
        sa.column("subject_id", sa.Integer()),
    )
    naming = sa.table("naming", sa.column("id", sa.Integer()), sa.column("load_id", sa.Integer()))
    of_naming = photo.c.subject_kind == "naming"
    load = sa.select(naming.c.load_id).where(naming.c.id == photo.c.subject_id).scalar_subquery()
    op.execute(
        photo.update().where(of_naming, load.is_not(None)).values(subject_kind="load", subject_id=load)
    )
    op.execute(photo.update().where(of_naming).values(subject_kind="yard", subject_id=photo.c.yard_id))
    _photos_may_be_of(OLD_SUBJECTS)
    op.drop_table("naming_truth")
    op.drop_table("naming")


def _photos_may_be_of(condition: str) -> None:
    name = op.f("ck_photo_subject_kind_known")
    with op.batch_alter_table("photo") as table:
        table.drop_constraint(name, type_="check")
        table.create_check_constraint(name, condition)
