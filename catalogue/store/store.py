"""The catalogue: one door to its database and to the contents kept beside it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from sqlalchemy import Connection, Engine, select

from catalogue.errors import Stopped
from catalogue.shapes.as_json import to_json
from catalogue.shapes.kit import Kit, Word
from catalogue.shapes.piece import PieceInfo
from catalogue.shapes.reading import Match
from catalogue.store import bulk, database, decisions, pieces, places, snapshot, spoken, version, ways
from catalogue.store.kept import Kept
from catalogue.store.spoken import Context, Spoken
from catalogue.store.tables import intake_folder, kept
from catalogue.store.trouble import told
from catalogue.store.ways import Ways

if TYPE_CHECKING:
    from collections.abc import Callable

STEPS = 20_000
"""Steps of SQLite's machine between two looks at whether a search is still wanted (about a millisecond)."""


class Store:
    """An open catalogue. Use it as a context manager; it may be shared by threads, each call has its own connection.

    Every method raises NotWorkable, with one clear sentence, where the database does not do its part.
    """

    def __init__(self, at: database.Where, engine: Engine) -> None:
        self._at = at
        self._engine = engine
        self._kept = Kept(at.kept)

    @classmethod
    def open(cls, where: str | None = None) -> Store:
        """Open the catalogue at a path or URL (None: the user's own); made where there is none, brought up to date.

        Raises NotWorkable for one that is locked, damaged, read-only, of another program or of a newer version.
        """
        at = database.where(where)
        engine = database.engine(at)
        store = cls(at, engine)
        try:
            store._prepare()
        except BaseException:
            engine.dispose()
            raise
        return store

    def _prepare(self) -> None:
        with self.reading() as connection:
            at = version.current(connection)
        if at == version.HEAD:
            return
        version.check(at, self.name)
        with self.writing() as connection:
            at = version.current(connection)
            if at is None:
                version.create(connection)
            elif at != version.HEAD:
                version.upgrade(connection)

    @property
    def name(self) -> str:
        """The catalogue's path or address, for people."""
        return self._at.name

    @property
    def own_paths(self) -> tuple[Path, ...]:
        """The catalogue's own files and folder, which are no pieces."""
        if self._at.file is None:
            return (self._at.kept,)
        stem = self._at.file
        return (stem, *(stem.with_name(stem.name + tail) for tail in ("-wal", "-shm", "-journal")), self._at.kept)

    def close(self) -> None:
        """Let go of every connection."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def reading(self, unless: Callable[[], bool] | None = None) -> Iterator[Connection]:
        """A connection that sees one unchanging state.

        `unless` is asked now and then; once true, the work is cut short and Stopped is raised (SQLite only).
        """
        if unless is None:
            with told(self.name), self._engine.connect() as connection, connection.begin():
                yield connection
            return
        cut = False

        def ask() -> bool:
            nonlocal cut
            cut = cut or unless()
            return cut

        try:
            with told(self.name), self._engine.connect() as connection, connection.begin():
                raw = connection.connection.dbapi_connection
                handler = getattr(raw, "set_progress_handler", None)
                if handler is None:
                    yield connection
                    return
                handler(ask, STEPS)
                try:
                    yield connection
                finally:
                    handler(None, 0)
        except Exception as error:
            if cut:  # whatever the database says of being cut short
                raise Stopped("The search was stopped.") from error
            raise

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A connection whose changes are all kept at the end, or none of them."""
        with told(self.name), self._engine.connect() as plain:
            connection = plain.execution_options(**{database.WRITES: True})
            with connection.begin():
                yield connection

    # Pieces

    def all_pieces(self) -> Iterator[tuple[str, int, str]]:
        """SHA-256, size in bytes and kind of every piece, by SHA-256."""
        with self.reading() as connection:
            found = list(pieces.everything(connection))
        return iter(found)

    def pieces_naming(self, pairs: Iterable[tuple[int, int]]) -> frozenset[str]:
        """The SHA-256s of the pieces that name any of these (vendor, device), in a device list too."""
        with self.reading() as connection:
            return pieces.naming(connection, pairs)

    def hashes_beginning(self, begins: str, limit: int) -> list[str]:
        """The SHA-256s that begin with these hex digits (lower case), at most `limit`, in order."""
        with self.reading() as connection:
            return pieces.beginning(connection, begins, limit)

    def piece_infos(self, sha256s: Sequence[str]) -> dict[str, PieceInfo]:
        """Pieces as lists show them, without vouching, by SHA-256."""
        with self.reading() as connection:
            return {
                one.sha256: one for _id, one in pieces.infos(connection, pieces.ids_of(connection, sha256s).values())
            }

    def ways_to(self, sha256s: Sequence[str]) -> dict[str, Ways]:
        """How to get at the bytes of these pieces, by SHA-256; unknown ones are absent."""
        with self.reading() as connection:
            return ways.ways_to(connection, sha256s)

    def piece_at(self, path: bytes, inside: Sequence[str]) -> str | None:
        """The SHA-256 of the piece at a place: a file's path, the names on the way into archives. None: not known."""
        with self.reading() as connection:
            return places.piece_at(connection, path, inside)

    # Intake folders

    def intake_folders(self) -> tuple[bytes, ...]:
        """What a person asked to index, as the file system's bytes, sorted."""
        with self.reading() as connection:
            return tuple(connection.execute(select(intake_folder.c.path).order_by(intake_folder.c.path)).scalars())

    # Words, families, kits

    def give_word(self, family: str, word: Word, stood: Context | None = None) -> None:
        """Record a person's word, with what stood then; a later one for the same family, code and content counts."""
        with self.writing() as connection:
            decisions.give_word(connection, family, word)
            if stood is None:
                spoken.forget(connection, family, word.code, word.sha256, word_too=False)
            else:
                spoken.note(connection, family, word.code, word.sha256, stood)

    def take_back_word(self, family: str, code: str, sha256: str) -> bool:
        """Take a word back; whether there was one."""
        with self.writing() as connection:
            return spoken.forget(connection, family, code, sha256, word_too=True)

    def spoken_words(self, family: str) -> tuple[Spoken, ...]:
        """The words of a family, the newest first, with what stood when each was given."""
        with self.reading() as connection:
            return spoken.spoken(connection, family)

    def accepted_at(self, family: str, sha256: str) -> str:
        """When a person accepted this very family file; "" where nobody did."""
        with self.reading() as connection:
            return spoken.accepted_at(connection, family, sha256)

    def words(self, family: str) -> tuple[Word, ...]:
        """The words given for a family, by code and content."""
        with self.reading() as connection:
            return decisions.words(connection, family)

    def accept_family(self, family: str, sha256: str) -> None:
        """Record that a person accepted this very family file."""
        with self.writing() as connection:
            decisions.accept_family(connection, family, sha256)

    def accepted_before(self, family: str) -> tuple[str, ...]:
        """The SHA-256s of a family's accepted files, the last accepted first."""
        with self.reading() as connection:
            return decisions.accepted_before(connection, family)

    def accepted_families(self) -> dict[str, frozenset[str]]:
        """The SHA-256s of accepted family files, by family id."""
        with self.reading() as connection:
            return decisions.accepted_families(connection)

    def remember_kit(self, kit: Kit) -> None:
        """Keep a judged kit, to be asked for by its id."""
        body = json.dumps(to_json(kit))
        with self.writing() as connection:
            decisions.remember_kit(connection, kit.id, kit.family, kit.route, kit.verdict, body)

    def kit_body(self, kit_id: str) -> str | None:
        """The JSON of a kit judged here, by its id."""
        with self.reading() as connection:
            return decisions.kit_body(connection, kit_id)

    def record_written(self, kit: Kit, target: bytes) -> None:
        """Record that a kit was written to a target (a path as the file system's bytes)."""
        body = json.dumps(to_json(kit))
        with self.writing() as connection:
            decisions.write_kit(connection, kit.id, target, body)

    def kits_written(self) -> list[tuple[str, str, str, str]]:
        """Kit id, target, when and the kit's JSON of each write-out, newest first."""
        with self.reading() as connection:
            return decisions.kits_written(connection)

    def pattern_answers(self, sha256s: Sequence[str], patterns: Sequence[str]) -> dict[str, dict[str, Match | None]]:
        """What is known of these patterns in these pieces: by SHA-256, then by pattern; None: looked for in vain."""
        with self.reading() as connection:
            return decisions.pattern_answers(connection, sha256s, patterns)

    def put_pattern_answers(self, answers: Sequence[tuple[str, str, Match | None]]) -> None:
        """Remember answers: SHA-256, pattern, and where it was found, or None."""
        if not answers:
            return
        with self.writing() as connection:
            decisions.put_pattern_answers(connection, answers)

    # Kept contents

    def keep(self, sha256: str, chunks: Iterable[bytes]) -> None:
        """Keep a content beside the database. Raises NotWorkable where the bytes are not those of `sha256`."""
        size = self._kept.keep(sha256, chunks)
        row = (bytes.fromhex(sha256), size, snapshot.now())
        with self.writing() as connection:
            bulk.insert(connection, kept, ("sha256", "size", "at"), [row], "ON CONFLICT (sha256) DO NOTHING")

    def kept_path(self, sha256: str) -> Path | None:
        """Where a kept content lies; None where it is not kept (or its file is gone)."""
        path = self._kept.path(sha256)
        return path if path.is_file() else None
