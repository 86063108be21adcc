"""Measuring: defects and sweep of logs, other measures of a load, marks on photos of stacks.

Revision ID: 0009
"""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

# No book of before holds a log without sound wood; going back, one is kept as the least that was allowed.
LEAST_M3 = 1e-9


def upgrade() -> None:
    """Logs of before were taken in without defects, inside the bark that was told: gross is what they hold."""
    with op.batch_alter_table("log_piece") as table:
        table.add_column(sa.Column("gross_m3", sa.Double(), nullable=True))
        table.add_column(sa.Column("sweep_m", sa.Double(), nullable=False, server_default="0"))
        table.add_column(sa.Column("defects", sa.JSON(), nullable=False, server_default="[]"))
        table.add_column(
            sa.Column("bark_by_species", sa.Boolean(), nullable=False, server_default=sa.false())
        )
        table.drop_constraint(op.f("ck_log_piece_volume_positive"), type_="check")
    op.execute("UPDATE log_piece SET gross_m3 = volume_m3")
    with op.batch_alter_table("log_piece") as table:
        table.alter_column("gross_m3", nullable=False)
        for column in ("sweep_m", "defects", "bark_by_species"):
            table.alter_column(column, server_default=None)
        table.create_check_constraint(
            op.f("ck_log_piece_volume_within_gross"),
            "volume_m3 >= 0 AND gross_m3 > 0 AND volume_m3 <= gross_m3",
        )
        table.create_check_constraint(op.f("ck_log_piece_sweep_not_negative"), "sweep_m >= 0")
    op.create_table(
        "load_measure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("set_aside_deed_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("low_m3", sa.Double(), nullable=False),
        sa.Column("mid_m3", sa.Double(), nullable=False),
        sa.Column("high_m3", sa.Double(), nullable=False),
        sa.Column("told", sa.JSON(), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.CheckConstraint("kind IN ('truck', 'weight', 'logs')", name=op.f("ck_load_measure_kind_known")),
        sa.CheckConstraint(
            "low_m3 > 0 AND low_m3 <= mid_m3 AND mid_m3 <= high_m3", name=op.f("ck_load_measure_spread_rises")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_load_measure_yard_id_yard")),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name=op.f("fk_load_measure_load_id_load")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_load_measure_deed_id_deed")),
        sa.ForeignKeyConstraint(
            ["set_aside_deed_id"], ["deed.id"], name=op.f("fk_load_measure_set_aside_deed_id_deed")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_load_measure")),
    )
    op.create_table(
        "load_following",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("low_m3", sa.Double(), nullable=False),
        sa.Column("mid_m3", sa.Double(), nullable=False),
        sa.Column("high_m3", sa.Double(), nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.CheckConstraint(
            "low_m3 > 0 AND low_m3 <= mid_m3 AND mid_m3 <= high_m3",
            name=op.f("ck_load_following_spread_rises"),
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_load_following_yard_id_yard")),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name=op.f("fk_load_following_load_id_load")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_load_following_deed_id_deed")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_load_following")),
    )
    op.create_table(
        "photo_gauging",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("measure_id", sa.Integer(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=True),
        sa.Column("board_width_m", sa.Double(), nullable=False),
        sa.Column("board_height_m", sa.Double(), nullable=False),
        sa.Column("corners_px", sa.JSON(), nullable=False),
        sa.Column("outline_px", sa.JSON(), nullable=False),
        sa.Column("area_m2", sa.Double(), nullable=False),
        sa.Column("low_m2", sa.Double(), nullable=False),
        sa.Column("high_m2", sa.Double(), nullable=False),
        sa.CheckConstraint(
            "board_width_m > 0 AND board_height_m > 0", name=op.f("ck_photo_gauging_board_positive")
        ),
        sa.CheckConstraint(
            "low_m2 > 0 AND low_m2 <= area_m2 AND area_m2 <= high_m2",
            name=op.f("ck_photo_gauging_area_positive"),
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_photo_gauging_yard_id_yard")),
        sa.ForeignKeyConstraint(
            ["measure_id"], ["stack_measure.id"], name=op.f("fk_photo_gauging_measure_id_stack_measure")
        ),
        sa.ForeignKeyConstraint(
            ["photo_id"], ["photo.id"], name=op.f("fk_photo_gauging_photo_id_photo"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo_gauging")),
        sa.UniqueConstraint("measure_id", name=op.f("uq_photo_gauging_measure_id")),
    )
    for name, columns in INDEXES.items():
        for column in columns:
            op.create_index(op.f(f"ix_{name}_{column}"), name, [column], unique=False)


def downgrade() -> None:
    """Other measures, marks and what was taken off are lost; what the logs hold net stays."""
    for name in reversed(INDEXES):
        op.drop_table(name)
    with op.batch_alter_table("log_piece") as table:
        table.drop_constraint(op.f("ck_log_piece_volume_within_gross"), type_="check")
        table.drop_constraint(op.f("ck_log_piece_sweep_not_negative"), type_="check")
    op.execute(f"UPDATE log_piece SET volume_m3 = {LEAST_M3} WHERE volume_m3 <= 0")
    with op.batch_alter_table("log_piece") as table:
        for column in ("gross_m3", "sweep_m", "defects", "bark_by_species"):
            table.drop_column(column)
        table.create_check_constraint(op.f("ck_log_piece_volume_positive"), "volume_m3 > 0")


INDEXES = {
    "load_measure": ("yard_id", "load_id"),
    "load_following": ("yard_id", "load_id"),
    "photo_gauging": ("yard_id", "photo_id"),
}
