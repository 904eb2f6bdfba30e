"""Public keys that a person recorded, and what they say of signatures."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the two tables."""
    op.create_table(
        "recorded_key",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.Text(), nullable=False),
        sa.Column("holder", sa.Text(), nullable=False),
        sa.Column("ids", sa.Text(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("expires", sa.Text(), nullable=False),
        sa.Column("revoked", sa.Boolean(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "signature_answer",
        sa.Column("signature_id", sa.Integer(), nullable=False),
        sa.Column("target_id", sa.Integer(), nullable=False),
        sa.Column("key_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("algorithm", sa.Text(), nullable=False),
        sa.Column("until", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["signature_id"], ["piece.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["target_id"], ["piece.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["key_id"], ["recorded_key.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("signature_id", "target_id", "key_id"),
        sqlite_with_rowid=False,
    )
    op.create_index("signature_answer_by_target", "signature_answer", ["target_id"])
