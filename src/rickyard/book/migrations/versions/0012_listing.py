"""Indexes for long lists, each in the order of its page.

Revision ID: 0012
"""

from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

INDEXES = (
    ("ix_load_arrived", "load", ["yard_id", "arrived_on", "id"]),
    ("ix_stack_standing", "stack", ["yard_id", "emptied_on", "name"]),
    ("ix_stack_forecast_state", "stack_forecast", ["yard_id", "state"]),
    ("ix_household_name", "household", ["yard_id", "name", "id"]),
    ("ix_orders_wanted", "orders", ["yard_id", "state", "wanted_by", "number"]),
    ("ix_promise_state", "promise", ["yard_id", "state", "stack_id", "outside_m3"]),
    ("ix_ticket_order", "ticket", ["yard_id", "order_id", "number"]),
    ("ix_ticket_household", "ticket", ["yard_id", "household_id", "number"]),
    ("ix_deed_person", "deed", ["yard_id", "person_id", "id"]),
    ("ix_clash_open", "clash", ["yard_id", "settled_at", "raised_at"]),
)


def upgrade() -> None:
    for name, table, columns in INDEXES:
        op.create_index(name, table, columns, unique=False)


def downgrade() -> None:
    for name, table, _ in reversed(INDEXES):
        op.drop_index(name, table_name=table)
