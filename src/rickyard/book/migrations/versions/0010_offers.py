"""Wood on offer, and what the yard's work and means cost; a load may have been paid for by who brought it.

Revision ID: 0010
"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


PAID = "ck_load_paid_not_negative"


def upgrade() -> None:
    # The form has always taken a minus for being paid to take a load; the table refused it.
    with op.batch_alter_table("load") as table:
        table.drop_constraint(op.f(PAID), type_="check")
    op.create_table(
        "offer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("source", sa.String(length=120), nullable=False),
        sa.Column("offered_on", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("typed", sa.String(length=200), nullable=False),
        sa.Column("quantity", sa.Double(), nullable=True),
        sa.Column("quantity_kind", sa.String(length=12), nullable=True),
        sa.Column("shares", sa.JSON(), nullable=False),
        sa.Column("logs", sa.JSON(), nullable=False),
        sa.Column("trees", sa.JSON(), nullable=False),
        sa.Column("harvest", sa.JSON(), nullable=False),
        sa.Column("origin", sa.String(length=8), nullable=False),
        sa.Column("rot_share", sa.Double(), nullable=False),
        sa.Column("asked_minor", sa.BigInteger(), nullable=True),
        sa.Column("haul_minor", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.String(length=500), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("settled_deed_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("kind IN ('rough', 'logs', 'trees')", name=op.f("ck_offer_kind_known")),
        sa.CheckConstraint("state IN ('open', 'taken', 'refused')", name=op.f("ck_offer_state_known")),
        sa.CheckConstraint("origin IN ('forest', 'yard')", name=op.f("ck_offer_origin_known")),
        sa.CheckConstraint(
            "quantity_kind IN ('stacked_m3', 'loose_m3', 'solid_m3', 'green_kg')",
            name=op.f("ck_offer_quantity_kind_known"),
        ),
        sa.CheckConstraint(
            "(quantity IS NULL) = (quantity_kind IS NULL)", name=op.f("ck_offer_quantity_with_kind")
        ),
        sa.CheckConstraint(
            "(kind = 'rough') = (quantity IS NOT NULL)", name=op.f("ck_offer_rough_has_quantity")
        ),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_offer_quantity_above_zero")),
        sa.CheckConstraint("(state = 'taken') = (load_id IS NOT NULL)", name=op.f("ck_offer_taken_has_load")),
        sa.CheckConstraint("rot_share >= 0 AND rot_share < 1", name=op.f("ck_offer_rot_is_share")),
        sa.CheckConstraint("haul_minor >= 0", name=op.f("ck_offer_haul_not_negative")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_offer_yard_id_yard")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_offer_deed_id_deed")),
        sa.ForeignKeyConstraint(["settled_deed_id"], ["deed.id"], name=op.f("fk_offer_settled_deed_id_deed")),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name=op.f("fk_offer_load_id_load")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_offer")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_offer_yard_id")),
        sa.UniqueConstraint("load_id", name=op.f("uq_offer_load_id")),
    )
    op.create_index(op.f("ix_offer_yard_id"), "offer", ["yard_id"], unique=False)
    op.create_table(
        "yard_costs",
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("wage_minor_h", sa.BigInteger(), nullable=True),
        sa.Column("machine_minor_h", sa.BigInteger(), nullable=True),
        sa.Column("fuel_minor_l", sa.BigInteger(), nullable=True),
        sa.Column("vehicle_minor_km", sa.BigInteger(), nullable=True),
        sa.Column("space_minor_cord_month", sa.BigInteger(), nullable=True),
        sa.Column("metal_minor", sa.BigInteger(), nullable=True),
        sa.Column("interest_year", sa.Double(), nullable=False),
        sa.Column("method", sa.String(length=40), nullable=False),
        sa.Column("delivery_km", sa.Double(), nullable=True),
        sa.Column("trip_cords", sa.Double(), nullable=True),
        sa.Column("delivered_share", sa.Double(), nullable=False),
        sa.Column("kerf_m", sa.Double(), nullable=False),
        sa.Column("hours", sa.JSON(), nullable=False),
        sa.Column("margin_kind", sa.String(length=8), nullable=False),
        sa.Column("margin", sa.Double(), nullable=False),
        sa.CheckConstraint(
            "margin_kind IN ('share', 'cord', 'load', 'hour')", name=op.f("ck_yard_costs_margin_kind_known")
        ),
        sa.CheckConstraint("margin >= 0", name=op.f("ck_yard_costs_margin_not_negative")),
        sa.CheckConstraint(
            "delivered_share >= 0 AND delivered_share <= 1", name=op.f("ck_yard_costs_delivered_is_share")
        ),
        sa.CheckConstraint(
            "interest_year >= 0 AND interest_year <= 1", name=op.f("ck_yard_costs_interest_is_share")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_yard_costs_yard_id_yard")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_yard_costs_deed_id_deed")),
        sa.PrimaryKeyConstraint("yard_id", name=op.f("pk_yard_costs")),
    )


def downgrade() -> None:
    """Offers are lost, and what we were paid for taking loads; the loads stay. Numbers of offers begin again."""
    op.drop_table("yard_costs")
    op.drop_index(op.f("ix_offer_yard_id"), table_name="offer")
    op.drop_table("offer")
    op.execute("DELETE FROM serial WHERE kind = 'offer'")
    op.execute("UPDATE load SET paid_minor = NULL WHERE paid_minor < 0")
    with op.batch_alter_table("load") as table:
        table.create_check_constraint(op.f(PAID), "paid_minor >= 0")
