"""Measurements: how a reading was taken, marked pieces and their weights, what a stack's readings taught.

None of the new tables is append-only: a lesson is reckoned anew when readings change.

Revision ID: 0004
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

NEW_CHECKS = ("face_known", "trust_known", "pieces_not_negative", "scatter_not_negative", "step_not_negative")


def upgrade() -> None:
    _readings_say_how_they_were_taken()
    op.create_table(
        "witness",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("stack_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("label", sa.String(length=12), nullable=False),
        sa.Column("species_id", sa.String(length=60), nullable=True),
        sa.Column("start_kg", sa.Double(), nullable=False),
        sa.Column("marked_on", sa.Date(), nullable=False),
        sa.Column("step_kg", sa.Double(), nullable=True),
        sa.Column("implied", sa.Boolean(), nullable=False),
        sa.CheckConstraint("start_kg > 0", name=op.f("ck_witness_start_positive")),
        sa.CheckConstraint("step_kg >= 0", name=op.f("ck_witness_step_not_negative")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_witness_yard_id_yard")),
        sa.ForeignKeyConstraint(["stack_id"], ["stack.id"], name=op.f("fk_witness_stack_id_stack")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_witness_deed_id_deed")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_witness")),
        sa.UniqueConstraint("stack_id", "label", "marked_on", "implied", name=op.f("uq_witness_stack_id")),
    )
    op.create_index(op.f("ix_witness_yard_id"), "witness", ["yard_id"], unique=False)
    op.create_index(op.f("ix_witness_stack_id"), "witness", ["stack_id"], unique=False)
    op.create_table(
        "witness_weight",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("reading_id", sa.Integer(), nullable=False),
        sa.Column("label", sa.String(length=12), nullable=False),
        sa.Column("mass_kg", sa.Double(), nullable=True),
        sa.CheckConstraint("mass_kg > 0", name=op.f("ck_witness_weight_mass_positive")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_witness_weight_yard_id_yard")),
        sa.ForeignKeyConstraint(
            ["reading_id"], ["reading.id"], name=op.f("fk_witness_weight_reading_id_reading")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_witness_weight")),
        sa.UniqueConstraint("reading_id", "label", name=op.f("uq_witness_weight_reading_id")),
    )
    op.create_index(op.f("ix_witness_weight_yard_id"), "witness_weight", ["yard_id"], unique=False)
    op.create_index(op.f("ix_witness_weight_reading_id"), "witness_weight", ["reading_id"], unique=False)
    op.create_table(
        "stack_lesson",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("stack_id", sa.Integer(), nullable=False),
        sa.Column("species_id", sa.String(length=60), nullable=False),
        sa.Column("thickness_class", sa.String(length=8), nullable=False),
        sa.Column("row_label", sa.String(length=40), nullable=False),
        sa.Column("pace", sa.Double(), nullable=False),
        sa.Column("exposure", sa.Double(), nullable=False),
        sa.Column("pace_precision", sa.Double(), nullable=False),
        sa.Column("cross_precision", sa.Double(), nullable=False),
        sa.Column("exposure_precision", sa.Double(), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("learnt_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("forgotten_deed_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_stack_lesson_yard_id_yard")),
        sa.ForeignKeyConstraint(["stack_id"], ["stack.id"], name=op.f("fk_stack_lesson_stack_id_stack")),
        sa.ForeignKeyConstraint(
            ["forgotten_deed_id"], ["deed.id"], name=op.f("fk_stack_lesson_forgotten_deed_id_deed")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stack_lesson")),
        sa.UniqueConstraint("stack_id", "species_id", name=op.f("uq_stack_lesson_stack_id")),
    )
    op.create_index(op.f("ix_stack_lesson_yard_id"), "stack_lesson", ["yard_id"], unique=False)
    op.create_index(op.f("ix_stack_lesson_stack_id"), "stack_lesson", ["stack_id"], unique=False)


def downgrade() -> None:
    """Marked pieces and their single weights are lost; the readings they came to stay, but those of no piece."""
    op.drop_table("stack_lesson")
    op.drop_table("witness_weight")
    op.drop_table("witness")
    reading = sa.table("reading", sa.column("id", sa.Integer()), sa.column("pieces", sa.Integer()))
    op.execute(reading.delete().where(reading.c.pieces == 0))
    with op.batch_alter_table("reading") as table:
        table.drop_constraint(op.f("fk_reading_judged_deed_id_deed"), type_="foreignkey")
        for name in NEW_CHECKS:
            table.drop_constraint(op.f(f"ck_reading_{name}"), type_="check")
        for column in (
            "face",
            "pieces",
            "scatter",
            "since",
            "step_share",
            "own",
            "wet",
            "trust",
            "judged_deed_id",
        ):
            table.drop_column(column)


def _readings_say_how_they_were_taken() -> None:
    """Until now a meter's pins went into a fresh face, and nobody had judged a reading."""
    with op.batch_alter_table("reading") as table:
        table.add_column(sa.Column("face", sa.String(length=8), nullable=True))
        table.add_column(sa.Column("pieces", sa.Integer(), nullable=True))
        table.add_column(sa.Column("scatter", sa.Double(), nullable=True))
        table.add_column(sa.Column("since", sa.Date(), nullable=True))
        table.add_column(sa.Column("step_share", sa.Double(), nullable=True))
        table.add_column(sa.Column("own", sa.Boolean(), nullable=True))
        table.add_column(sa.Column("wet", sa.Boolean(), nullable=True))
        table.add_column(sa.Column("trust", sa.String(length=8), nullable=True))
        table.add_column(sa.Column("judged_deed_id", sa.Integer(), nullable=True))
    reading = sa.table(
        "reading",
        sa.column("face", sa.String()),
        sa.column("own", sa.Boolean()),
        sa.column("wet", sa.Boolean()),
        sa.column("trust", sa.String()),
    )
    op.execute(reading.update().values(face="split", own=sa.false(), wet=sa.false(), trust=""))
    with op.batch_alter_table("reading") as table:
        for name, kind in (("face", sa.String(length=8)), ("trust", sa.String(length=8))):
            table.alter_column(name, existing_type=kind, nullable=False)
        for name in ("own", "wet"):
            table.alter_column(name, existing_type=sa.Boolean(), nullable=False)
        table.create_check_constraint(op.f("ck_reading_face_known"), "face IN ('split', 'surface')")
        table.create_check_constraint(op.f("ck_reading_trust_known"), "trust IN ('', 'right', 'aside')")
        table.create_check_constraint(op.f("ck_reading_pieces_not_negative"), "pieces >= 0")
        table.create_check_constraint(op.f("ck_reading_scatter_not_negative"), "scatter >= 0")
        table.create_check_constraint(op.f("ck_reading_step_not_negative"), "step_share >= 0")
        table.create_foreign_key(op.f("fk_reading_judged_deed_id_deed"), "deed", ["judged_deed_id"], ["id"])
