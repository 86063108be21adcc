"""The first tables, and the triggers that keep the journal append-only.

Revision ID: 0001
"""

import sqlalchemy as sa
from alembic import op

from rickyard.book.migrations import triggers

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "yard",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("address", sa.String(length=300), nullable=False),
        sa.Column("phone", sa.String(length=40), nullable=False),
        sa.Column("country", sa.String(length=2), nullable=False),
        sa.Column("subdivision", sa.String(length=8), nullable=False),
        sa.Column("climate_place", sa.String(length=80), nullable=False),
        sa.Column("timezone", sa.String(length=60), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("locale", sa.String(length=12), nullable=False),
        sa.Column("units", sa.String(length=8), nullable=False),
        sa.Column("target_mc_wet", sa.Double(), nullable=False),
        sa.Column("tax_rate", sa.Double(), nullable=False),
        sa.Column("seed", sa.Integer(), nullable=False),
        sa.Column("is_demo", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("units IN ('imperial', 'metric')", name=op.f("ck_yard_units_known")),
        sa.CheckConstraint("target_mc_wet > 0 AND target_mc_wet < 1", name=op.f("ck_yard_target_is_share")),
        sa.CheckConstraint("tax_rate >= 0 AND tax_rate < 1", name=op.f("ck_yard_tax_rate_is_share")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_yard")),
    )
    op.create_table(
        "lot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("country", sa.String(length=2), nullable=False),
        sa.Column("subdivision", sa.String(length=8), nullable=False),
        sa.Column("county", sa.String(length=80), nullable=False),
        sa.Column("certificate", sa.String(length=80), nullable=False),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_lot_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
    )
    op.create_index(op.f("ix_lot_yard_id"), "lot", ["yard_id"], unique=False)
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("role", sa.String(length=12), nullable=False),
        sa.CheckConstraint(
            "role IN ('owner', 'helper', 'driver', 'bookkeeper')", name=op.f("ck_person_role_known")
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_person_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
    )
    op.create_index(op.f("ix_person_yard_id"), "person", ["yard_id"], unique=False)
    op.create_table(
        "serial",
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("next", sa.Integer(), nullable=False),
        sa.CheckConstraint("next >= 1", name=op.f("ck_serial_next_from_one")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_serial_yard_id_yard")),
        sa.PrimaryKeyConstraint("yard_id", "kind", name=op.f("pk_serial")),
    )
    op.create_table(
        "spot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.CheckConstraint(
            "kind IN ('load', 'stack', 'household', 'gate', 'own_use', 'loss', 'outside')",
            name=op.f("ck_spot_kind_known"),
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_spot_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spot")),
    )
    op.create_index(op.f("ix_spot_yard_id"), "spot", ["yard_id"], unique=False)
    op.create_table(
        "ware",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("species_ids", sa.JSON(), nullable=False),
        sa.Column("form", sa.String(length=12), nullable=False),
        sa.Column("piece_length_m", sa.Double(), nullable=False),
        sa.Column("length_tolerance_m", sa.Double(), nullable=False),
        sa.Column("max_mc_wet", sa.Double(), nullable=True),
        sa.Column("price_minor", sa.BigInteger(), nullable=False),
        sa.Column("price_unit", sa.String(length=12), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.CheckConstraint("form IN ('split', 'round', 'kindling')", name=op.f("ck_ware_form_known")),
        sa.CheckConstraint(
            "price_unit IN ('cord', 'stacked_m3', 'loose_m3')", name=op.f("ck_ware_price_unit_known")
        ),
        sa.CheckConstraint("length_tolerance_m >= 0", name=op.f("ck_ware_tolerance_not_negative")),
        sa.CheckConstraint("max_mc_wet > 0 AND max_mc_wet < 1", name=op.f("ck_ware_max_mc_is_share")),
        sa.CheckConstraint("piece_length_m > 0", name=op.f("ck_ware_piece_length_positive")),
        sa.CheckConstraint("price_minor >= 0", name=op.f("ck_ware_price_not_negative")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_ware_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ware")),
        sa.UniqueConstraint("yard_id", "name", name=op.f("uq_ware_yard_id")),
    )
    op.create_index(op.f("ix_ware_yard_id"), "ware", ["yard_id"], unique=False)
    op.create_table(
        "deed",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("client_key", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("body_hash", sa.String(length=64), nullable=False),
        sa.Column("answer", sa.JSON(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_deed_person_id_person")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_deed_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_deed")),
        sa.UniqueConstraint("yard_id", "client_key", name=op.f("uq_deed_yard_id")),
    )
    op.create_index(op.f("ix_deed_yard_id"), "deed", ["yard_id"], unique=False)
    op.create_table(
        "household",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("spot_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("address", sa.String(length=300), nullable=False),
        sa.Column("phone", sa.String(length=40), nullable=False),
        sa.Column("note", sa.String(length=500), nullable=False),
        sa.ForeignKeyConstraint(["spot_id"], ["spot.id"], name=op.f("fk_household_spot_id_spot")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_household_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_household")),
        sa.UniqueConstraint("spot_id", name=op.f("uq_household_spot_id")),
    )
    op.create_index(op.f("ix_household_yard_id"), "household", ["yard_id"], unique=False)
    op.create_table(
        "load",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("spot_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("source", sa.String(length=120), nullable=False),
        sa.Column("arrived_on", sa.Date(), nullable=False),
        sa.Column("detail", sa.String(length=8), nullable=False),
        sa.Column("typed", sa.String(length=200), nullable=False),
        sa.Column("mass_sd_share", sa.Double(), nullable=False),
        sa.Column("paid_minor", sa.BigInteger(), nullable=True),
        sa.Column("note", sa.String(length=500), nullable=False),
        sa.CheckConstraint("detail IN ('rough', 'logs', 'opening')", name=op.f("ck_load_detail_known")),
        sa.CheckConstraint("mass_sd_share >= 0", name=op.f("ck_load_mass_sd_not_negative")),
        sa.CheckConstraint("number >= 1", name=op.f("ck_load_number_from_one")),
        sa.CheckConstraint("paid_minor >= 0", name=op.f("ck_load_paid_not_negative")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_load_lot_id_lot")),
        sa.ForeignKeyConstraint(["spot_id"], ["spot.id"], name=op.f("fk_load_spot_id_spot")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_load_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_load")),
        sa.UniqueConstraint("spot_id", name=op.f("uq_load_spot_id")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_load_yard_id")),
    )
    op.create_index(op.f("ix_load_yard_id"), "load", ["yard_id"], unique=False)
    op.create_table(
        "stack",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("spot_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("form", sa.String(length=12), nullable=False),
        sa.Column("piece_length_m", sa.Double(), nullable=False),
        sa.Column("thickness_m", sa.Double(), nullable=False),
        sa.Column("bark", sa.Boolean(), nullable=False),
        sa.Column("cover", sa.String(length=8), nullable=False),
        sa.Column("exposure", sa.String(length=12), nullable=False),
        sa.Column("stacked_on", sa.Date(), nullable=False),
        sa.Column("start_mc_wet", sa.Double(), nullable=True),
        sa.Column("target_mc_wet", sa.Double(), nullable=False),
        sa.Column("row_label", sa.String(length=40), nullable=False),
        sa.Column("x_m", sa.Double(), nullable=True),
        sa.Column("y_m", sa.Double(), nullable=True),
        sa.Column("emptied_on", sa.Date(), nullable=True),
        sa.Column("note", sa.String(length=500), nullable=False),
        sa.CheckConstraint("cover IN ('none', 'top', 'shed')", name=op.f("ck_stack_cover_known")),
        sa.CheckConstraint(
            "exposure IN ('sheltered', 'normal', 'windy')", name=op.f("ck_stack_exposure_known")
        ),
        sa.CheckConstraint("form IN ('split', 'round', 'kindling')", name=op.f("ck_stack_form_known")),
        sa.CheckConstraint("kind IN ('stack', 'heap', 'bin')", name=op.f("ck_stack_kind_known")),
        sa.CheckConstraint("piece_length_m > 0", name=op.f("ck_stack_piece_length_positive")),
        sa.CheckConstraint("start_mc_wet > 0 AND start_mc_wet < 1", name=op.f("ck_stack_start_is_share")),
        sa.CheckConstraint("target_mc_wet > 0 AND target_mc_wet < 1", name=op.f("ck_stack_target_is_share")),
        sa.CheckConstraint("thickness_m > 0", name=op.f("ck_stack_thickness_positive")),
        sa.ForeignKeyConstraint(["spot_id"], ["spot.id"], name=op.f("fk_stack_spot_id_spot")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_stack_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stack")),
        sa.UniqueConstraint("spot_id", name=op.f("uq_stack_spot_id")),
        sa.UniqueConstraint("yard_id", "name", name=op.f("uq_stack_yard_id")),
    )
    op.create_index(op.f("ix_stack_yard_id"), "stack", ["yard_id"], unique=False)
    op.create_table(
        "entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reverses_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("number >= 1", name=op.f("ck_entry_number_from_one")),
        sa.CheckConstraint("reverses_id <> id", name=op.f("ck_entry_reverses_another")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_entry_deed_id_deed")),
        sa.ForeignKeyConstraint(["reverses_id"], ["entry.id"], name=op.f("fk_entry_reverses_id_entry")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_entry_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry")),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_entry_reverses_id")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_entry_yard_id")),
    )
    op.create_index(op.f("ix_entry_yard_id"), "entry", ["yard_id"], unique=False)
    op.create_table(
        "log_piece",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("species_id", sa.String(length=60), nullable=False),
        sa.Column("length_m", sa.Double(), nullable=False),
        sa.Column("small_d_m", sa.Double(), nullable=True),
        sa.Column("large_d_m", sa.Double(), nullable=True),
        sa.Column("mid_d_m", sa.Double(), nullable=True),
        sa.Column("bark_thickness_m", sa.Double(), nullable=False),
        sa.Column("formula", sa.String(length=12), nullable=False),
        sa.Column("volume_m3", sa.Double(), nullable=False),
        sa.CheckConstraint("bark_thickness_m >= 0", name=op.f("ck_log_piece_bark_not_negative")),
        sa.CheckConstraint("length_m > 0", name=op.f("ck_log_piece_length_positive")),
        sa.CheckConstraint("number >= 1", name=op.f("ck_log_piece_number_from_one")),
        sa.CheckConstraint("volume_m3 > 0", name=op.f("ck_log_piece_volume_positive")),
        sa.ForeignKeyConstraint(["load_id"], ["load.id"], name=op.f("fk_log_piece_load_id_load")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_log_piece_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_log_piece")),
        sa.UniqueConstraint("load_id", "number", name=op.f("uq_log_piece_load_id")),
    )
    op.create_index(op.f("ix_log_piece_load_id"), "log_piece", ["load_id"], unique=False)
    op.create_index(op.f("ix_log_piece_yard_id"), "log_piece", ["yard_id"], unique=False)
    op.create_table(
        "orders",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("household_id", sa.Integer(), nullable=False),
        sa.Column("ware_id", sa.Integer(), nullable=False),
        sa.Column("typed", sa.String(length=60), nullable=False),
        sa.Column("outside_m3", sa.Double(), nullable=False),
        sa.Column("asked_on", sa.Date(), nullable=False),
        sa.Column("wanted_by", sa.Date(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("total_minor", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.String(length=500), nullable=False),
        sa.CheckConstraint(
            "state IN ('asked', 'promised', 'delivered', 'cancelled')", name=op.f("ck_orders_state_known")
        ),
        sa.CheckConstraint("number >= 1", name=op.f("ck_orders_number_from_one")),
        sa.CheckConstraint("outside_m3 > 0", name=op.f("ck_orders_outside_positive")),
        sa.CheckConstraint("total_minor >= 0", name=op.f("ck_orders_total_not_negative")),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_orders_household_id_household")
        ),
        sa.ForeignKeyConstraint(["ware_id"], ["ware.id"], name=op.f("fk_orders_ware_id_ware")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_orders_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_orders")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_orders_yard_id")),
    )
    op.create_index(op.f("ix_orders_household_id"), "orders", ["household_id"], unique=False)
    op.create_index(op.f("ix_orders_yard_id"), "orders", ["yard_id"], unique=False)
    op.create_table(
        "reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("stack_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=True),
        sa.Column("happened_on", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("species_id", sa.String(length=60), nullable=True),
        sa.Column("value", sa.Double(), nullable=False),
        sa.Column("temp_c", sa.Double(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.CheckConstraint("kind IN ('meter', 'oven', 'weighed')", name=op.f("ck_reading_kind_known")),
        sa.CheckConstraint("value >= 0", name=op.f("ck_reading_value_not_negative")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_reading_deed_id_deed")),
        sa.ForeignKeyConstraint(["stack_id"], ["stack.id"], name=op.f("fk_reading_stack_id_stack")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_reading_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
    )
    op.create_index(op.f("ix_reading_stack_id"), "reading", ["stack_id"], unique=False)
    op.create_index(op.f("ix_reading_yard_id"), "reading", ["yard_id"], unique=False)
    op.create_table(
        "stack_forecast",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("stack_id", sa.Integer(), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("error", sa.String(length=500), nullable=False),
        sa.Column("model", sa.String(length=40), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("summary", sa.JSON(), nullable=False),
        sa.Column("members_mc", sa.LargeBinary(), nullable=True),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed')", name=op.f("ck_stack_forecast_state_known")
        ),
        sa.ForeignKeyConstraint(["stack_id"], ["stack.id"], name=op.f("fk_stack_forecast_stack_id_stack")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_stack_forecast_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stack_forecast")),
        sa.UniqueConstraint("stack_id", name=op.f("uq_stack_forecast_stack_id")),
    )
    op.create_index(op.f("ix_stack_forecast_yard_id"), "stack_forecast", ["yard_id"], unique=False)
    op.create_table(
        "stack_measure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("stack_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=True),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("piled", sa.String(length=8), nullable=False),
        sa.Column("length_m", sa.Double(), nullable=False),
        sa.Column("heights_m", sa.JSON(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("outside_m3", sa.Double(), nullable=False),
        sa.Column("mass_g", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("piled IN ('ranked', 'loose')", name=op.f("ck_stack_measure_piled_known")),
        sa.CheckConstraint("length_m > 0", name=op.f("ck_stack_measure_length_positive")),
        sa.CheckConstraint("outside_m3 > 0", name=op.f("ck_stack_measure_outside_positive")),
        sa.CheckConstraint("rows >= 1", name=op.f("ck_stack_measure_rows_from_one")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_stack_measure_deed_id_deed")),
        sa.ForeignKeyConstraint(["stack_id"], ["stack.id"], name=op.f("fk_stack_measure_stack_id_stack")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_stack_measure_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stack_measure")),
    )
    op.create_index(op.f("ix_stack_measure_stack_id"), "stack_measure", ["stack_id"], unique=False)
    op.create_index(op.f("ix_stack_measure_yard_id"), "stack_measure", ["yard_id"], unique=False)
    op.create_table(
        "posting",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("spot_id", sa.Integer(), nullable=False),
        sa.Column("species_id", sa.String(length=60), nullable=False),
        sa.Column("form", sa.String(length=10), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("mass_g", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.Double(), nullable=True),
        sa.Column("unit", sa.String(length=20), nullable=False),
        sa.Column("method", sa.String(length=40), nullable=False),
        sa.Column("sd_share", sa.Double(), nullable=True),
        sa.Column("basic_density_kg_m3", sa.Double(), nullable=True),
        sa.CheckConstraint(
            "form IN ('log', 'round', 'split', 'kindling', 'bark', 'kerf', 'waste')",
            name=op.f("ck_posting_form_known"),
        ),
        sa.CheckConstraint("basic_density_kg_m3 > 0", name=op.f("ck_posting_density_positive")),
        sa.CheckConstraint("mass_g <> 0", name=op.f("ck_posting_mass_not_zero")),
        sa.CheckConstraint("sd_share >= 0", name=op.f("ck_posting_sd_not_negative")),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_posting_entry_id_entry")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_posting_lot_id_lot")),
        sa.ForeignKeyConstraint(["spot_id"], ["spot.id"], name=op.f("fk_posting_spot_id_spot")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_posting_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_posting")),
    )
    op.create_index(op.f("ix_posting_entry_id"), "posting", ["entry_id"], unique=False)
    op.create_index(
        "ix_posting_stock", "posting", ["spot_id", "species_id", "form", "lot_id", "mass_g"], unique=False
    )
    op.create_index(op.f("ix_posting_yard_id"), "posting", ["yard_id"], unique=False)
    op.create_table(
        "promise",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("stack_id", sa.Integer(), nullable=False),
        sa.Column("outside_m3", sa.Double(), nullable=False),
        sa.Column("odds", sa.Double(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.CheckConstraint("state IN ('open', 'kept', 'released')", name=op.f("ck_promise_state_known")),
        sa.CheckConstraint("odds >= 0 AND odds <= 1", name=op.f("ck_promise_odds_are_share")),
        sa.CheckConstraint("outside_m3 > 0", name=op.f("ck_promise_outside_positive")),
        sa.ForeignKeyConstraint(["order_id"], ["orders.id"], name=op.f("fk_promise_order_id_orders")),
        sa.ForeignKeyConstraint(["stack_id"], ["stack.id"], name=op.f("fk_promise_stack_id_stack")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_promise_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_promise")),
    )
    op.create_index(op.f("ix_promise_order_id"), "promise", ["order_id"], unique=False)
    op.create_index(op.f("ix_promise_stack_id"), "promise", ["stack_id"], unique=False)
    op.create_index(op.f("ix_promise_yard_id"), "promise", ["yard_id"], unique=False)
    op.create_table(
        "ticket",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=True),
        sa.Column("household_id", sa.Integer(), nullable=True),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("issued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("delivered_on", sa.Date(), nullable=False),
        sa.Column("outside_m3", sa.Double(), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=False),
        sa.Column("tax_minor", sa.BigInteger(), nullable=False),
        sa.Column("total_minor", sa.BigInteger(), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_ticket_number_from_one")),
        sa.CheckConstraint("outside_m3 > 0", name=op.f("ck_ticket_outside_positive")),
        sa.CheckConstraint("price_minor >= 0", name=op.f("ck_ticket_price_not_negative")),
        sa.CheckConstraint("tax_minor >= 0", name=op.f("ck_ticket_tax_not_negative")),
        sa.CheckConstraint(
            "total_minor = price_minor + tax_minor", name=op.f("ck_ticket_total_is_price_and_tax")
        ),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_ticket_entry_id_entry")),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_ticket_household_id_household")
        ),
        sa.ForeignKeyConstraint(["order_id"], ["orders.id"], name=op.f("fk_ticket_order_id_orders")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_ticket_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ticket")),
        sa.UniqueConstraint("entry_id", name=op.f("uq_ticket_entry_id")),
        sa.UniqueConstraint("yard_id", "number", name=op.f("uq_ticket_yard_id")),
    )
    op.create_index(op.f("ix_ticket_household_id"), "ticket", ["household_id"], unique=False)
    op.create_index(op.f("ix_ticket_order_id"), "ticket", ["order_id"], unique=False)
    op.create_index(op.f("ix_ticket_yard_id"), "ticket", ["yard_id"], unique=False)
    op.create_table(
        "payment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("ticket_id", sa.Integer(), nullable=False),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        sa.Column("method", sa.String(length=20), nullable=False),
        sa.Column("paid_on", sa.Date(), nullable=False),
        sa.CheckConstraint("amount_minor > 0", name=op.f("ck_payment_amount_positive")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_payment_ticket_id_ticket")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_payment_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payment")),
    )
    op.create_index(op.f("ix_payment_ticket_id"), "payment", ["ticket_id"], unique=False)
    op.create_index(op.f("ix_payment_yard_id"), "payment", ["yard_id"], unique=False)
    triggers.protect(op.get_bind(), ("entry", "posting"))


def downgrade() -> None:
    triggers.unprotect(op.get_bind(), ("entry", "posting"))
    op.drop_index(op.f("ix_payment_yard_id"), table_name="payment")
    op.drop_index(op.f("ix_payment_ticket_id"), table_name="payment")
    op.drop_table("payment")
    op.drop_index(op.f("ix_ticket_yard_id"), table_name="ticket")
    op.drop_index(op.f("ix_ticket_order_id"), table_name="ticket")
    op.drop_index(op.f("ix_ticket_household_id"), table_name="ticket")
    op.drop_table("ticket")
    op.drop_index(op.f("ix_promise_yard_id"), table_name="promise")
    op.drop_index(op.f("ix_promise_stack_id"), table_name="promise")
    op.drop_index(op.f("ix_promise_order_id"), table_name="promise")
    op.drop_table("promise")
    op.drop_index(op.f("ix_posting_yard_id"), table_name="posting")
    op.drop_index("ix_posting_stock", table_name="posting")
    op.drop_index(op.f("ix_posting_entry_id"), table_name="posting")
    op.drop_table("posting")
    op.drop_index(op.f("ix_stack_measure_yard_id"), table_name="stack_measure")
    op.drop_index(op.f("ix_stack_measure_stack_id"), table_name="stack_measure")
    op.drop_table("stack_measure")
    op.drop_index(op.f("ix_stack_forecast_yard_id"), table_name="stack_forecast")
    op.drop_table("stack_forecast")
    op.drop_index(op.f("ix_reading_yard_id"), table_name="reading")
    op.drop_index(op.f("ix_reading_stack_id"), table_name="reading")
    op.drop_table("reading")
    op.drop_index(op.f("ix_orders_yard_id"), table_name="orders")
    op.drop_index(op.f("ix_orders_household_id"), table_name="orders")
    op.drop_table("orders")
    op.drop_index(op.f("ix_log_piece_yard_id"), table_name="log_piece")
    op.drop_index(op.f("ix_log_piece_load_id"), table_name="log_piece")
    op.drop_table("log_piece")
    op.drop_index(op.f("ix_entry_yard_id"), table_name="entry")
    op.drop_table("entry")
    op.drop_index(op.f("ix_stack_yard_id"), table_name="stack")
    op.drop_table("stack")
    op.drop_index(op.f("ix_load_yard_id"), table_name="load")
    op.drop_table("load")
    op.drop_index(op.f("ix_household_yard_id"), table_name="household")
    op.drop_table("household")
    op.drop_index(op.f("ix_deed_yard_id"), table_name="deed")
    op.drop_table("deed")
    op.drop_index(op.f("ix_ware_yard_id"), table_name="ware")
    op.drop_table("ware")
    op.drop_index(op.f("ix_spot_yard_id"), table_name="spot")
    op.drop_table("spot")
    op.drop_table("serial")
    op.drop_index(op.f("ix_person_yard_id"), table_name="person")
    op.drop_table("person")
    op.drop_index(op.f("ix_lot_yard_id"), table_name="lot")
    op.drop_table("lot")
    op.drop_table("yard")
