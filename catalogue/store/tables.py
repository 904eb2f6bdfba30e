"""The catalogue's tables. A migration in `migrations/versions` makes the same ones; a test holds the two together.

Paths and names of files are bytes as the file system gives them (`os.fsencode`), names of archive members are UTF-8
with surrogate escapes: both are lossless. Ids of pieces are given out by us, rising, so that the newest comes last.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    func,
)

META = MetaData()


def _id(name: str = "id") -> Column[int]:
    return Column(name, Integer, primary_key=True, autoincrement=False)


def _piece(name: str = "piece_id", *, primary: bool = False) -> Column[int]:
    return Column(name, Integer, ForeignKey("piece.id", ondelete="CASCADE"), primary_key=primary, nullable=False)


run = Table(
    "run",
    META,
    _id(),
    Column("started", Text, nullable=False),
    Column("finished", Text),
)
"""One call of index. `finished` stays empty where it was stopped or killed."""

reader_table = Table("reader_table", META, _id(), Column("version", Text, nullable=False, unique=True))
"""Each table of readers (and of the unpacking) by which pieces were read, as text: see `store.readers`."""

intake_folder = Table(
    "intake_folder",
    META,
    Column("path", LargeBinary, primary_key=True),
    Column("added", Text, nullable=False),
)
"""What a person asked to index: folders, or single files."""

folder = Table("folder", META, _id(), Column("path", LargeBinary, nullable=False, unique=True))

file = Table(
    "file",
    META,
    Column("folder_id", Integer, ForeignKey("folder.id", ondelete="CASCADE"), primary_key=True),
    Column("name", LargeBinary, primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("mtime_ns", BigInteger, nullable=False),
    Column("ctime_ns", BigInteger, nullable=False),
    Column("inode", BigInteger, nullable=False),
    _piece(),
    sqlite_with_rowid=False,
)
"""A file and what it held when it was read. The inode's 64 bits stand as a signed number. A `mtime_ns` of -1 marks a
file too fresh for its time to tell a later change."""

piece = Table(
    "piece",
    META,
    _id(),
    Column("sha256", LargeBinary, nullable=False, unique=True),
    Column("size", BigInteger, nullable=False),
    Column("kind", Text, nullable=False),
    Column("shown_kind", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("format", Text, nullable=False),
    Column("reader_version", Integer, nullable=False),
    Column("table_id", Integer, ForeignKey("reader_table.id"), nullable=False),
    Column("first_run", Integer, ForeignKey("run.id"), nullable=False),
    Column("depth", Integer, nullable=False),
    Column("is_list", Boolean, nullable=False),
    Column("head", LargeBinary),
)
"""A content. `kind` is from its bytes alone, `shown_kind` also from its names (a DOS program named .COM). `depth`
says how much of it was read: see `store.found`. `head` is its first bytes, those by which readers tell a format."""

inner_format = Table(
    "inner_format",
    META,
    _piece(primary=True),
    Column("name", Text, primary_key=True),
    sqlite_with_rowid=False,
)
"""The readers of a piece's parts, where they are others than its own; and `reader-failed`, where one failed."""

reading = Table("reading", META, _piece(primary=True), Column("body", Text, nullable=False))
"""The reading, generically, where it says more than format, kind and title."""

card_id = Table(
    "card_id",
    META,
    _piece(primary=True),
    Column("position", Integer, primary_key=True),
    Column("vendor", Integer, nullable=False),
    Column("device", Integer, nullable=False),
    sqlite_with_rowid=False,
)
"""Every vendor and device a piece names, those of device lists too, for looking up."""

version_claim = Table(
    "version_claim",
    META,
    _piece(primary=True),
    Column("position", Integer, primary_key=True),
    Column("value", Text, nullable=False),
    Column("source", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""The first version claims of a piece, for lists and searches; the reading has them all."""

list_entry = Table(
    "list_entry",
    META,
    _piece("list_id", primary=True),
    Column("position", Integer, primary_key=True),
    Column("line", Integer, nullable=False),
    Column("algorithm", Text, nullable=False),
    Column("digest", LargeBinary, nullable=False),
    Column("name", LargeBinary, nullable=False),
    Column("base_key", LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)
"""Lines of checksum lists. `base_key` is the last part of the name, case folded; empty for a bare digest."""

archive = Table(
    "archive",
    META,
    _piece(primary=True),
    Column("why", Text, nullable=False),
)
"""An archive that was opened; `why` says what was wrong with it as a whole ("" for nothing)."""

member = Table(
    "member",
    META,
    _piece("archive_id", primary=True),
    Column("position", Integer, primary_key=True),
    Column("name", LargeBinary, nullable=False),
    Column("piece_id", Integer, ForeignKey("piece.id", ondelete="CASCADE")),
    Column("size", BigInteger, nullable=False),
    Column("crc32", BigInteger),
    Column("fault", Text, nullable=False),
    Column("why", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""An entry of an archive, by the archive's content, once. `piece_id` is empty where its bytes could not be had."""

digest = Table(
    "digest",
    META,
    _piece(primary=True),
    Column("algorithm", Text, primary_key=True),
    Column("value", LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)
"""Digests beside SHA-256, only where a list needs them."""

recorded_list = Table(
    "recorded_list",
    META,
    _id(),
    Column("sha256", LargeBinary, nullable=False),
    Column("place", LargeBinary, nullable=False),
    Column("source", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("fact", Text, nullable=False, server_default=""),
)
"""A checksum list whose source a person recorded; it stays when the file is gone."""

recorded_entry = Table(
    "recorded_entry",
    META,
    Column("list_id", Integer, ForeignKey("recorded_list.id", ondelete="CASCADE"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("line", Integer, nullable=False),
    Column("algorithm", Text, nullable=False),
    Column("digest", LargeBinary, nullable=False),
    Column("name", LargeBinary, nullable=False),
    Column("base_key", LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)

recorded_key = Table(
    "recorded_key",
    META,
    _id(),
    Column("kind", Text, nullable=False),
    Column("fingerprint", Text, nullable=False),
    Column("holder", Text, nullable=False),
    Column("ids", Text, nullable=False),
    Column("body", LargeBinary, nullable=False),
    Column("expires", Text, nullable=False),
    Column("revoked", Boolean, nullable=False),
    Column("source", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("fact", Text, nullable=False, server_default=""),
)
"""A public key that a person recorded, with its source. `ids` are all that signatures name it by, a blank between."""

signature_answer = Table(
    "signature_answer",
    META,
    _piece("signature_id", primary=True),
    _piece("target_id", primary=True),
    Column("key_id", Integer, ForeignKey("recorded_key.id", ondelete="CASCADE"), primary_key=True),
    Column("state", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("algorithm", Text, nullable=False),
    Column("until", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""What a recorded key says of a signature and the bytes beside it (`shapes.signing`); of a list that is signed in
the clear, signature and target are the same piece."""

word = Table(
    "word",
    META,
    Column("family", Text, primary_key=True),
    Column("code", Text, primary_key=True),
    Column("sha256", LargeBinary, primary_key=True),
    Column("reason", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("fact", Text, nullable=False, server_default=""),
)

word_context = Table(
    "word_context",
    META,
    Column("family", Text, primary_key=True),
    Column("code", Text, primary_key=True),
    Column("sha256", LargeBinary, primary_key=True),
    Column("family_sha256", LargeBinary, nullable=False),
    Column("rules", Integer, nullable=False),
    Column("path", LargeBinary, nullable=False),
    Column("inside", Text, nullable=False),
)
"""What stood when a word was given, so that a person can see what has changed since."""

ran = Table(
    "ran",
    META,
    Column("fact", Text, primary_key=True),
    Column("family", Text, nullable=False),
    Column("family_sha256", Text, nullable=False),
    Column("route", Text, nullable=False),
    Column("steps", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("mode", Text, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("subsystem", Text, nullable=False),
    Column("revision", Text, nullable=False),
    Column("card", Text, nullable=False),
    Column("kit", Text, nullable=False),
    Column("version", Text, nullable=False),
    Column("before", Text, nullable=False),
    Column("after", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", Text, nullable=False),
)
"""A card that compared well with a piece in a role (`shapes.facts.RanFact`), with the listings that show it."""

taken_back = Table(
    "taken_back",
    META,
    Column("fact", Text, primary_key=True),
    Column("by", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("at", Text, nullable=False),
)
"""Facts, by their id, that a person took back; the fact itself need not be here."""

fact_from = Table(
    "fact_from",
    META,
    Column("fact", Text, primary_key=True),
    Column("bench", Text, nullable=False),
    Column("sent_by", Text, nullable=False),
    Column("accepted_by", Text, nullable=False),
    Column("accepted_at", Text, nullable=False),
)
"""Where facts came from that are not this bench's own. `fact` of a record is filled by `store.facts.fill`."""

this_bench = Table("this_bench", META, _id(), Column("name", Text, nullable=False))
"""What this bench calls itself in the facts it hands out; one row at most."""

accepted_family = Table(
    "accepted_family",
    META,
    Column("family", Text, primary_key=True),
    Column("sha256", LargeBinary, primary_key=True),
    Column("at", Text, nullable=False),
)

pattern = Table("pattern", META, _id(), Column("text", Text, nullable=False, unique=True))

pattern_answer = Table(
    "pattern_answer",
    META,
    _piece(primary=True),
    Column("pattern_id", Integer, ForeignKey("pattern.id"), primary_key=True),
    Column("offset", BigInteger),
    Column("length", BigInteger, nullable=False),
    Column("value", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""Where a family's pattern was found in a piece; `offset` is empty where it was looked for in vain."""

kit_judged = Table(
    "kit_judged",
    META,
    Column("kit_id", Text, primary_key=True),
    Column("family", Text, nullable=False),
    Column("route", Text, nullable=False),
    Column("verdict", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("at", Text, nullable=False),
)

kit_written = Table(
    "kit_written",
    META,
    _id(),
    Column("kit_id", Text, nullable=False),
    Column("target", LargeBinary, nullable=False),
    Column("at", Text, nullable=False),
    Column("body", Text, nullable=False),
)

kept = Table(
    "kept",
    META,
    Column("sha256", LargeBinary, primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("at", Text, nullable=False),
)
"""Contents kept beside the database."""

search = Table("search", META, _piece(primary=True), Column("text", Text, nullable=False))
"""The case-folded text of a piece that words are looked for in."""

unreadable = Table(
    "unreadable",
    META,
    Column("path", LargeBinary, primary_key=True),
    Column("why", Text, nullable=False),
)
"""Files and folders that could not be opened or read through at the last look."""

Index("file_by_piece", file.c.piece_id)
Index("card_id_by_ids", card_id.c.vendor, card_id.c.device)
Index("list_entry_by_base", list_entry.c.base_key)
Index("member_by_piece", member.c.piece_id)
Index("digest_by_value", digest.c.value)
Index("search_by_beginning", func.substr(search.c.text, 1, 2))
Index("recorded_entry_by_base", recorded_entry.c.base_key)
Index("recorded_entry_by_digest", recorded_entry.c.digest)
Index("ran_by_family", ran.c.family)
Index("signature_answer_by_target", signature_answer.c.target_id)

SEARCH_INDEX = (
    "CREATE VIRTUAL TABLE search_index USING fts5("
    "text, content='search', content_rowid='piece_id', tokenize='trigram', detail=none)"
)
"""SQLite's own: three letters at a time; the text itself stands in `search` (https://sqlite.org/fts5.html)."""
SEARCH_INDEX_POSTGRESQL = (
    "CREATE EXTENSION IF NOT EXISTS pg_trgm",
    "CREATE INDEX search_by_trigram ON search USING gin (text gin_trgm_ops)",
)
