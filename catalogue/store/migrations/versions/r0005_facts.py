"""Facts: cards that ran, what was taken back, what came from other benches, and the name of this one."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def _texts(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text(), nullable=False) for name in names]


def upgrade() -> None:
    """Add the tables, and the fact's id to what is recorded."""
    for table in ("recorded_list", "recorded_key", "word"):
        op.add_column(table, sa.Column("fact", sa.Text(), nullable=False, server_default=""))
    op.create_table(
        "ran",
        *_texts("fact", "family", "family_sha256", "route", "steps", "role", "mode", "sha256", "subsystem"),
        *_texts("revision", "card", "kit", "version", "before", "after", "by", "at"),
        sa.PrimaryKeyConstraint("fact"),
    )
    op.create_index("ran_by_family", "ran", ["family"])
    op.create_table("taken_back", *_texts("fact", "by", "reason", "at"), sa.PrimaryKeyConstraint("fact"))
    op.create_table(
        "fact_from",
        *_texts("fact", "bench", "sent_by", "accepted_by", "accepted_at"),
        sa.PrimaryKeyConstraint("fact"),
    )
    op.create_table(
        "this_bench",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        *_texts("name"),
        sa.PrimaryKeyConstraint("id"),
    )
