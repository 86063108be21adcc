"""Weather: files taken in, hours by source, services and their forecasts.

None of the tables is append-only: a file may be taken back, and a service's hours grow.

Revision ID: 0003
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_SERVICES = "service IN ('open_meteo', 'eccc')"
_KINDS = "kind IN ('observed', 'typical')"


def upgrade() -> None:
    op.create_table(
        "weather_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("deed_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("format", sa.String(length=20), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("station", sa.String(length=200), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("complete", sa.Double(), nullable=False),
        sa.Column("meaning", sa.JSON(), nullable=False),
        sa.Column("notes", sa.JSON(), nullable=False),
        sa.Column("offsets", sa.JSON(), nullable=False),
        sa.Column("use_offsets", sa.Boolean(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("taken_back_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(_KINDS, name=op.f("ck_weather_file_kind_known")),
        sa.CheckConstraint("first_day <= last_day", name=op.f("ck_weather_file_first_before_last")),
        sa.CheckConstraint("complete >= 0 AND complete <= 1", name=op.f("ck_weather_file_share_is_share")),
        sa.ForeignKeyConstraint(["deed_id"], ["deed.id"], name=op.f("fk_weather_file_deed_id_deed")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_weather_file_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_file")),
    )
    op.create_index(op.f("ix_weather_file_deed_id"), "weather_file", ["deed_id"], unique=False)
    op.create_index(op.f("ix_weather_file_sha256"), "weather_file", ["sha256"], unique=False)
    op.create_index(op.f("ix_weather_file_yard_id"), "weather_file", ["yard_id"], unique=False)
    op.create_table(
        "weather_hours",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("weather_file_id", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=40), nullable=False),
        sa.Column("format", sa.String(length=20), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("station", sa.String(length=200), nullable=False),
        sa.Column("latitude_deg", sa.Double(), nullable=True),
        sa.Column("longitude_deg", sa.Double(), nullable=True),
        sa.Column("elevation_m", sa.Double(), nullable=True),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("notes", sa.JSON(), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(_KINDS, name=op.f("ck_weather_hours_kind_known")),
        sa.ForeignKeyConstraint(
            ["weather_file_id"],
            ["weather_file.id"],
            name=op.f("fk_weather_hours_weather_file_id_weather_file"),
        ),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_weather_hours_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_hours")),
        sa.UniqueConstraint("yard_id", "source", name=op.f("uq_weather_hours_yard_id")),
    )
    op.create_index(
        op.f("ix_weather_hours_weather_file_id"), "weather_hours", ["weather_file_id"], unique=False
    )
    op.create_index(op.f("ix_weather_hours_yard_id"), "weather_hours", ["yard_id"], unique=False)
    op.create_table(
        "weather_service",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("service", sa.String(length=20), nullable=False),
        sa.Column("is_on", sa.Boolean(), nullable=False),
        sa.Column("address", sa.String(length=200), nullable=False),
        sa.Column("history_address", sa.String(length=200), nullable=False),
        sa.Column("access_key", sa.String(length=200), nullable=False),
        sa.Column("station", sa.String(length=20), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("answered_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("history_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("again_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("error_code", sa.String(length=40), nullable=False),
        sa.Column("error", sa.JSON(), nullable=False),
        sa.CheckConstraint(_SERVICES, name=op.f("ck_weather_service_service_known")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_weather_service_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_service")),
        sa.UniqueConstraint("yard_id", "service", name=op.f("uq_weather_service_yard_id")),
    )
    op.create_index(op.f("ix_weather_service_yard_id"), "weather_service", ["yard_id"], unique=False)
    op.create_table(
        "weather_issue",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("yard_id", sa.Integer(), nullable=False),
        sa.Column("service", sa.String(length=20), nullable=False),
        sa.Column("issued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("format", sa.String(length=20), nullable=False),
        sa.Column("station", sa.String(length=200), nullable=False),
        sa.Column("latitude_deg", sa.Double(), nullable=True),
        sa.Column("longitude_deg", sa.Double(), nullable=True),
        sa.Column("elevation_m", sa.Double(), nullable=True),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint(_SERVICES, name=op.f("ck_weather_issue_service_known")),
        sa.ForeignKeyConstraint(["yard_id"], ["yard.id"], name=op.f("fk_weather_issue_yard_id_yard")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_issue")),
        sa.UniqueConstraint("yard_id", "service", "issued_at", name=op.f("uq_weather_issue_yard_id")),
    )
    op.create_index(op.f("ix_weather_issue_yard_id"), "weather_issue", ["yard_id"], unique=False)


def downgrade() -> None:
    for table, columns in (
        ("weather_issue", ("yard_id",)),
        ("weather_service", ("yard_id",)),
        ("weather_hours", ("yard_id", "weather_file_id")),
        ("weather_file", ("yard_id", "sha256", "deed_id")),
    ):
        for column in columns:
            op.drop_index(op.f(f"ix_{table}_{column}"), table_name=table)
        op.drop_table(table)
