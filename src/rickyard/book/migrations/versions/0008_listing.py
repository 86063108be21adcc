"""Indexes for long lists: each in the order of its page, those of open things small.

Revision ID: 0008
"""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

INDEXES = (
    ("ix_load_arrived", "load", ["yard_id", "arrived_on", "id"], None),
    ("ix_stack_standing", "stack", ["yard_id", "name"], "emptied_on IS NULL"),
    ("ix_household_name", "household", ["yard_id", "name", "id"], None),
    ("ix_orders_wanted", "orders", ["yard_id", "state", "wanted_by", "number"], None),
    ("ix_promise_open", "promise", ["yard_id", "stack_id", "outside_m3"], "state = 'open'"),
    ("ix_deed_person", "deed", ["yard_id", "person_id", "id"], None),
    ("ix_clash_open", "clash", ["yard_id", "raised_at"], "settled_at IS NULL"),
)


def upgrade() -> None:
    for name, table, columns, where in INDEXES:
        only = sa.text(where) if where else None
        op.create_index(name, table, columns, unique=False, sqlite_where=only, postgresql_where=only)


def downgrade() -> None:
    for name, table, _, _ in reversed(INDEXES):
        op.drop_index(name, table_name=table)
