"""Cut sheets with what was ticked off and found, splitting sheets, timed work.

None of the tables is append-only: a plan and a thickness are put in when they are reckoned.

Revision ID: 0011
"""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "cut_sheet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("wares", sa.JSON(), nullable=False),
        sa.Column("kerf_m", sa.Double(), nullable=False),
        sa.Column("trim_m", sa.Double(), nullable=False),
        sa.Column("method", sa.String(length=16), nullable=False),
        sa.Column("bound", sa.Double(), nullable=True),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.CheckConstraint("trim_m >= 0", name=op.f("ck_cut_sheet_trim_not_negative")),
        sa.CheckConstraint("number >= 1", name=op.f("ck_cut_sheet_number_from_one")),
        sa.CheckConstraint("kerf_m >= 0", name=op.f("ck_cut_sheet_kerf_not_negative")),
        sa.CheckConstraint("bound >= 0", name=op.f("ck_cut_sheet_bound_not_negative")),
        sa.CheckConstraint(
            "method IN ('', 'single', 'every_sequence', 'columns', 'prices')",
            name=op.f("ck_cut_sheet_method_known"),
        ),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_cut_sheet_deed_id_deed")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_cut_sheet_yard_id_yard")),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name=op.f("fk_cut_sheet_load_id_load")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cut_sheet")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_cut_sheet_yard_id")),
    )
    op.create_index(op.f("ix_cut_sheet_load_id"), "cut_sheet", ["load_id"], unique=False)
    op.create_index(op.f("ix_cut_sheet_yard_id"), "cut_sheet", ["yard_id"], unique=False)
    op.create_table(
        "cut_sheet_log",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("sheet_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("log_number", sa.Integer(), nullable=True),
        sa.Column("label", sa.String(length=40), nullable=False),
        sa.Column("species_id", sa.String(length=60), nullable=False),
        sa.Column("length_m", sa.Double(), nullable=False),
        sa.Column("large_d_m", sa.Double(), nullable=False),
        sa.Column("small_d_m", sa.Double(), nullable=False),
        sa.Column("mid_only", sa.Boolean(), nullable=False),
        sa.Column("defects", sa.JSON(), nullable=False),
        sa.Column("cuts", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "small_d_m > 0 AND large_d_m >= small_d_m", name=op.f("ck_cut_sheet_log_ends_in_order")
        ),
        sa.CheckConstraint("length_m > 0", name=op.f("ck_cut_sheet_log_length_positive")),
        sa.CheckConstraint("number >= 1", name=op.f("ck_cut_sheet_log_number_from_one")),
        sa.ForeignKeyConstraint(
            ["sheet_id"], ["cut_sheet.id"], name=op.f("fk_cut_sheet_log_sheet_id_cut_sheet")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_cut_sheet_log_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cut_sheet_log")),
        sa.UniqueConstraint("sheet_id", "number", name=op.f("uq_cut_sheet_log_sheet_id")),
    )
    op.create_index(op.f("ix_cut_sheet_log_sheet_id"), "cut_sheet_log", ["sheet_id"], unique=False)
    op.create_index(op.f("ix_cut_sheet_log_yard_id"), "cut_sheet_log", ["yard_id"], unique=False)
    op.create_table(
        "cut_tick",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("log_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=4), nullable=False),
        sa.Column("from_m", sa.Double(), nullable=True),
        sa.Column("to_m", sa.Double(), nullable=True),
        sa.CheckConstraint("(from_m IS NULL) = (to_m IS NULL)", name=op.f("ck_cut_tick_piece_from_to")),
        sa.CheckConstraint("kind IN ('cut', 'undo')", name=op.f("ck_cut_tick_kind_known")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_cut_tick_deed_id_deed")),
        sa.ForeignKeyConstraint(
            ["log_id"], ["cut_sheet_log.id"], name=op.f("fk_cut_tick_log_id_cut_sheet_log")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_cut_tick_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cut_tick")),
    )
    op.create_index(op.f("ix_cut_tick_log_id"), "cut_tick", ["log_id"], unique=False)
    op.create_index(op.f("ix_cut_tick_yard_id"), "cut_tick", ["yard_id"], unique=False)
    op.create_table(
        "cut_finding",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("log_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("from_m", sa.Double(), nullable=False),
        sa.Column("to_m", sa.Double(), nullable=False),
        sa.Column("cut_to_m", sa.Double(), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.Column("cuts_before", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('rot', 'metal', 'fork', 'crack', 'crook', 'other')",
            name=op.f("ck_cut_finding_kind_known"),
        ),
        sa.CheckConstraint("from_m >= 0 AND to_m > from_m", name=op.f("ck_cut_finding_place_in_order")),
        sa.CheckConstraint("cut_to_m >= 0", name=op.f("ck_cut_finding_cut_not_negative")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_cut_finding_deed_id_deed")),
        sa.ForeignKeyConstraint(
            ["log_id"], ["cut_sheet_log.id"], name=op.f("fk_cut_finding_log_id_cut_sheet_log")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_cut_finding_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cut_finding")),
    )
    op.create_index(op.f("ix_cut_finding_log_id"), "cut_finding", ["log_id"], unique=False)
    op.create_index(op.f("ix_cut_finding_yard_id"), "cut_finding", ["yard_id"], unique=False)
    op.create_table(
        "splitting_sheet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("species_id", sa.String(length=60), nullable=False),
        sa.Column("piece_length_m", sa.Double(), nullable=False),
        sa.Column("stacked_on", sa.Date(), nullable=False),
        sa.Column("wanted_by", sa.Date(), nullable=False),
        sa.Column("odds", sa.Double(), nullable=False),
        sa.Column("target_mc_wet", sa.Double(), nullable=False),
        sa.Column("cover", sa.String(length=8), nullable=False),
        sa.Column("exposure", sa.String(length=12), nullable=False),
        sa.Column("firebox_m", sa.Double(), nullable=True),
        sa.Column("hand_m", sa.Double(), nullable=True),
        sa.Column("knotty", sa.Boolean(), nullable=False),
        sa.Column("method", sa.String(length=24), nullable=False),
        sa.Column("measured", sa.Boolean(), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("limit_m", sa.Double(), nullable=True),
        sa.Column("limit_odds", sa.Double(), nullable=True),
        sa.Column("model", sa.String(length=60), nullable=False),
        sa.Column("rounds", sa.JSON(), nullable=False),
        sa.Column("patterns", sa.JSON(), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_splitting_sheet_number_from_one")),
        sa.CheckConstraint("piece_length_m > 0", name=op.f("ck_splitting_sheet_length_positive")),
        sa.CheckConstraint("odds > 0 AND odds < 1", name=op.f("ck_splitting_sheet_odds_are_share")),
        sa.CheckConstraint(
            "target_mc_wet > 0 AND target_mc_wet < 1", name=op.f("ck_splitting_sheet_target_is_share")
        ),
        sa.CheckConstraint(
            "(state = 'waiting') = (limit_m IS NULL)", name=op.f("ck_splitting_sheet_limit_or_waiting")
        ),
        sa.CheckConstraint("firebox_m > 0", name=op.f("ck_splitting_sheet_firebox_positive")),
        sa.CheckConstraint("hand_m > 0", name=op.f("ck_splitting_sheet_hand_positive")),
        sa.CheckConstraint(
            "state IN ('waiting', 'found', 'always', 'never')", name=op.f("ck_splitting_sheet_state_known")
        ),
        sa.CheckConstraint("limit_m > 0", name=op.f("ck_splitting_sheet_limit_positive")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_splitting_sheet_yard_id_yard")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_splitting_sheet_deed_id_deed")),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name=op.f("fk_splitting_sheet_load_id_load")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_splitting_sheet")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_splitting_sheet_yard_id")),
    )
    op.create_index(op.f("ix_splitting_sheet_load_id"), "splitting_sheet", ["load_id"], unique=False)
    op.create_index(op.f("ix_splitting_sheet_yard_id"), "splitting_sheet", ["yard_id"], unique=False)
    op.create_table(
        "work_session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("sheet_id", sa.Integer(), nullable=True),
        sa.Column("species_id", sa.String(length=60), nullable=True),
        sa.Column("method", sa.String(length=24), nullable=False),
        sa.Column("worked_on", sa.Date(), nullable=False),
        sa.Column("cords", sa.Double(), nullable=True),
        sa.Column("solid_m3", sa.Double(), nullable=True),
        sa.Column("piece_length_m", sa.Double(), nullable=False),
        sa.Column("hours", sa.Double(), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=True),
        sa.Column("typed", sa.String(length=40), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.CheckConstraint("hours > 0", name=op.f("ck_work_session_hours_positive")),
        sa.CheckConstraint("pieces >= 1", name=op.f("ck_work_session_pieces_from_one")),
        sa.CheckConstraint("piece_length_m > 0", name=op.f("ck_work_session_length_positive")),
        sa.CheckConstraint("cords > 0", name=op.f("ck_work_session_cords_positive")),
        sa.CheckConstraint("solid_m3 > 0", name=op.f("ck_work_session_solid_positive")),
        sa.CheckConstraint("(cords IS NULL) <> (solid_m3 IS NULL)", name=op.f("ck_work_session_one_amount")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_work_session_deed_id_deed")),
        sa.ForeignKeyConstraint(
            ["sheet_id"], ["splitting_sheet.id"], name=op.f("fk_work_session_sheet_id_splitting_sheet")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_work_session_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work_session")),
    )
    op.create_index(op.f("ix_work_session_sheet_id"), "work_session", ["sheet_id"], unique=False)
    op.create_index(op.f("ix_work_session_yard_id"), "work_session", ["yard_id"], unique=False)


def downgrade() -> None:
    """The sheets and the timed hours are lost; no wood hangs on them."""
    for table in ("work_session", "splitting_sheet", "cut_finding", "cut_tick", "cut_sheet_log", "cut_sheet"):
        op.drop_table(table)
    op.execute("DELETE FROM serial WHERE kind IN ('cut_sheet', 'splitting_sheet')")
