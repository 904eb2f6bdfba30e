"""What stood when a person gave a word: the family file, the rules, where the piece lay."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "word_context",
        sa.Column("family", sa.Text(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("sha256", sa.LargeBinary(), nullable=False),
        sa.Column("family_sha256", sa.LargeBinary(), nullable=False),
        sa.Column("rules", sa.Integer(), nullable=False),
        sa.Column("path", sa.LargeBinary(), nullable=False),
        sa.Column("inside", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("family", "code", "sha256"),
    )
