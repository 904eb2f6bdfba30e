"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

SEARCH_INDEX = (
    "CREATE VIRTUAL TABLE search_index USING fts5("
    "text, content='search', content_rowid='piece_id', tokenize='trigram', detail=none)"
)


def upgrade() -> None:
    """Make every table of the first form."""

    op.create_table(
        "accepted_family",
        sa.Column("family", sa.Text(), nullable=False),
        sa.Column("sha256", sa.LargeBinary(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("family", "sha256"),
    )
    op.create_table(
        "folder",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("path", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("path"),
    )
    op.create_table(
        "intake_folder",
        sa.Column("path", sa.LargeBinary(), nullable=False),
        sa.Column("added", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("path"),
    )
    op.create_table(
        "kept",
        sa.Column("sha256", sa.LargeBinary(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("sha256"),
    )
    op.create_table(
        "kit_judged",
        sa.Column("kit_id", sa.Text(), nullable=False),
        sa.Column("family", sa.Text(), nullable=False),
        sa.Column("route", sa.Text(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("kit_id"),
    )
    op.create_table(
        "kit_written",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kit_id", sa.Text(), nullable=False),
        sa.Column("target", sa.LargeBinary(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "pattern",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("text"),
    )
    op.create_table(
        "reader_table",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("version", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("version"),
    )
    op.create_table(
        "recorded_list",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sha256", sa.LargeBinary(), nullable=False),
        sa.Column("place", sa.LargeBinary(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("started", sa.Text(), nullable=False),
        sa.Column("finished", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "unreadable",
        sa.Column("path", sa.LargeBinary(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("path"),
    )
    op.create_table(
        "word",
        sa.Column("family", sa.Text(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("sha256", sa.LargeBinary(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("family", "code", "sha256"),
    )
    op.create_table(
        "piece",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sha256", sa.LargeBinary(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("shown_kind", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("format", sa.Text(), nullable=False),
        sa.Column("reader_version", sa.Integer(), nullable=False),
        sa.Column("table_id", sa.Integer(), nullable=False),
        sa.Column("first_run", sa.Integer(), nullable=False),
        sa.Column("depth", sa.Integer(), nullable=False),
        sa.Column("is_list", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["first_run"],
            ["run.id"],
        ),
        sa.ForeignKeyConstraint(
            ["table_id"],
            ["reader_table.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("sha256"),
    )
    op.create_table(
        "recorded_entry",
        sa.Column("list_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("algorithm", sa.Text(), nullable=False),
        sa.Column("digest", sa.LargeBinary(), nullable=False),
        sa.Column("name", sa.LargeBinary(), nullable=False),
        sa.Column("base_key", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["list_id"], ["recorded_list.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("list_id", "position"),
        sqlite_with_rowid=False,
    )
    op.create_index("recorded_entry_by_base", "recorded_entry", ["base_key"], unique=False)
    op.create_index("recorded_entry_by_digest", "recorded_entry", ["digest"], unique=False)
    op.create_table(
        "archive",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id"),
    )
    op.create_table(
        "card_id",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("vendor", sa.Integer(), nullable=False),
        sa.Column("device", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id", "position"),
        sqlite_with_rowid=False,
    )
    op.create_index("card_id_by_ids", "card_id", ["vendor", "device"], unique=False)
    op.create_table(
        "digest",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("algorithm", sa.Text(), nullable=False),
        sa.Column("value", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id", "algorithm"),
        sqlite_with_rowid=False,
    )
    op.create_index("digest_by_value", "digest", ["value"], unique=False)
    op.create_table(
        "file",
        sa.Column("folder_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.LargeBinary(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("mtime_ns", sa.BigInteger(), nullable=False),
        sa.Column("ctime_ns", sa.BigInteger(), nullable=False),
        sa.Column("inode", sa.BigInteger(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["folder_id"], ["folder.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("folder_id", "name"),
        sqlite_with_rowid=False,
    )
    op.create_index("file_by_piece", "file", ["piece_id"], unique=False)
    op.create_table(
        "list_entry",
        sa.Column("list_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("algorithm", sa.Text(), nullable=False),
        sa.Column("digest", sa.LargeBinary(), nullable=False),
        sa.Column("name", sa.LargeBinary(), nullable=False),
        sa.Column("base_key", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["list_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("list_id", "position"),
        sqlite_with_rowid=False,
    )
    op.create_index("list_entry_by_base", "list_entry", ["base_key"], unique=False)
    op.create_table(
        "member",
        sa.Column("archive_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.LargeBinary(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=True),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("crc32", sa.BigInteger(), nullable=True),
        sa.Column("fault", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["archive_id"], ["piece.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("archive_id", "position"),
        sqlite_with_rowid=False,
    )
    op.create_index("member_by_piece", "member", ["piece_id"], unique=False)
    op.create_table(
        "pattern_answer",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("pattern_id", sa.Integer(), nullable=False),
        sa.Column("offset", sa.BigInteger(), nullable=True),
        sa.Column("length", sa.BigInteger(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["pattern_id"],
            ["pattern.id"],
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id", "pattern_id"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "reading",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id"),
    )
    op.create_table(
        "search",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id"),
    )
    op.create_table(
        "version_claim",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id", "position"),
        sqlite_with_rowid=False,
    )
    op.create_index("search_by_beginning", "search", [sa.text("substr(text, 1, 2)")])
    if op.get_bind().dialect.name == "sqlite":
        op.execute(SEARCH_INDEX)
    else:
        op.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")
        op.execute("CREATE INDEX search_by_trigram ON search USING gin (text gin_trgm_ops)")
