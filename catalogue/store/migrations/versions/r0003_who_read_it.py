"""Who read the parts of a piece, and its first bytes: so that a better reader reads again only what it must."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add both. What was read before has neither, and is read again."""
    op.add_column("piece", sa.Column("head", sa.LargeBinary(), nullable=True))
    op.create_table(
        "inner_format",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id", "name"),
        sqlite_with_rowid=False,
    )
