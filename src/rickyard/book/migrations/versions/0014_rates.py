"""What a litre, a kilometre, a cord and month cost may be broken numbers of cents.

Revision ID: 0014
"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

RATES = ("fuel_minor_l", "vehicle_minor_km", "space_minor_cord_month")


def upgrade() -> None:
    """They are told for a gallon, a mile or a cubic metre as well, and come back as they were told."""
    with op.batch_alter_table("yard_costs") as table:
        for name in RATES:
            table.alter_column(name, existing_type=sa.BigInteger(), type_=sa.Double())


def downgrade() -> None:
    """Rounded to whole cents."""
    costs = sa.table("yard_costs", *(sa.column(name, sa.Double()) for name in RATES))
    op.execute(costs.update().values({name: sa.func.round(costs.c[name]) for name in RATES}))
    with op.batch_alter_table("yard_costs") as table:
        for name in RATES:
            table.alter_column(name, existing_type=sa.Double(), type_=sa.BigInteger())
