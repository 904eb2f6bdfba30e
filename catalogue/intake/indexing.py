"""Index folders: walk, compare with what is remembered, read what is new, notice what is gone."""

from __future__ import annotations

import bisect
import contextlib
import os
import stat
import time
from collections.abc import Sequence
from dataclasses import dataclass, field

from catalogue.errors import BadCall
from catalogue.intake import more_digests, signature_checks
from catalogue.intake.files import reason, stamp_of
from catalogue.intake.pool import Answer, Failed, Pool
from catalogue.intake.reading import READ_BY
from catalogue.intake.walk import Looked, look
from catalogue.shapes.changes import Changes
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import IndexSummary, Unreadable
from catalogue.store import Connection, Store, places, snapshot
from catalogue.store.found import FileFound, Folder, Stamp
from catalogue.store.ingest import Ingest

WRITE_AT = 2_000
"""Files written in one transaction."""
WRITE_SECONDS = 2.0
"""How long what was read waits to be written; a kill loses no more."""
MOST_OUTSTANDING = 4_000
MOST_MEMBERS = 20_000
"""Members of archives that wait to be written."""
SEP = places.SEPARATOR


@dataclass(slots=True)
class _Counts:
    files: int = 0
    changed: int = 0
    unchanged: int = 0
    gone: int = 0
    skipped: int = 0
    done: int = 0
    met: set[int] = field(default_factory=set)
    new_at: list[int] = field(default_factory=list)
    unreadable: dict[bytes, str] = field(default_factory=dict)
    named_unreadable: bool = False


def index(store: Store, paths: Sequence[str | bytes | os.PathLike[str]], progress: Progress) -> IndexSummary:
    """Index folders and files. Raises BadCall for a path that is not there, Stopped, and NotWorkable.

    However it ends, what was finished is kept, and the next call goes on from there.
    """
    begun = time.monotonic()
    roots = _roots(paths)
    with store.writing() as connection:
        run = snapshot.begin_run(connection, READ_BY)
        for root in roots:
            snapshot.add_intake_folder(connection, root)
    work = _Indexing(store, progress, run)
    try:
        for root in roots:
            work.root(root)
        work.finish(roots, whole=run.cut)
    except BaseException:
        work.give_up()
        raise
    finally:
        work.pool.close()
    return work.summary(roots, time.monotonic() - begun)


def _roots(paths: Sequence[str | bytes | os.PathLike[str]]) -> list[bytes]:
    """The paths, absolute, each once, none inside another. Raises BadCall for one that is not there."""
    found: dict[bytes, None] = {}
    for given in paths:
        path = os.path.abspath(os.fsencode(given))  # noqa: PTH100 (bytes)
        try:
            looked = os.stat(path)  # noqa: PTH116 (bytes)
        except (FileNotFoundError, NotADirectoryError) as error:
            raise BadCall(f"There is no {os.fsdecode(path)} to index.") from error
        except (OSError, ValueError):
            found[path] = None
            continue
        if not (stat.S_ISDIR(looked.st_mode) or stat.S_ISREG(looked.st_mode)):
            raise BadCall(f"{os.fsdecode(path)} is neither a folder nor a file; devices and pipes are not indexed.")
        found[path] = None
    return [one for one in found if not any(one != other and one.startswith(_stem(other)) for other in found)]


def _stem(path: bytes) -> bytes:
    return path if path.endswith(SEP) else path + SEP


class _Indexing:
    """One call of index."""

    def __init__(self, store: Store, progress: Progress, run: snapshot.Run) -> None:
        self.store = store
        self.progress = progress
        self.run = run
        self.ingest = Ingest(run.id, run.table_id)
        self.pool = Pool()
        self.count = _Counts()
        self.own = {os.fsencode(path) for path in store.own_paths}
        self.total: int | None = None
        self._waiting: list[FileFound] = []
        self._weight = 0
        self._written = time.monotonic()
        self._gone: list[tuple[int, bytes, int]] = []
        self.moved = 0
        self._known: dict[bytes, int] = {}
        self._order: list[bytes] = []
        self._fetched: dict[bytes, dict[bytes, snapshot.Known]] = {}

    # Walking

    def root(self, root: bytes) -> None:
        """Walk one of the paths that were named."""
        try:
            is_folder = stat.S_ISDIR(os.stat(root).st_mode)  # noqa: PTH116 (bytes)
        except (OSError, ValueError) as error:
            self._refuse(root, reason(error) if isinstance(error, OSError) else f"Its name cannot be used ({error}).")
            return
        if not is_folder:
            self._file_root(root)
            return
        with self.store.reading() as connection:
            self._known = snapshot.folders_under(connection, root, SEP)
        self._order = sorted(self._known)
        self._fetched = {}
        seen: set[bytes] = set()
        shut: list[bytes] = []
        ahead = [root]
        while ahead:
            path = ahead.pop()
            self._pump(path, wait=self.pool.outstanding >= MOST_OUTSTANDING)
            found = look(path)
            seen.add(path)
            if found.failed:
                shut.append(path)
                if path == root:
                    self._refuse(path, found.failed)
                else:
                    self.count.unreadable[path] = found.failed
                continue
            self._folder(path, found)
            stem = _stem(path)
            ahead += [stem + name for name in reversed(found.folders) if stem + name not in self.own]
        self._gone_folders(seen, shut)

    def _refuse(self, root: bytes, why: str) -> None:
        self.count.unreadable[root] = why
        self.count.named_unreadable = True

    def _file_root(self, root: bytes) -> None:
        path, name = os.path.split(root)
        with self.store.reading() as connection:
            id_ = snapshot.folder_id(connection, path)
            known = snapshot.files_in(connection, [id_], self.run.stale)[id_] if id_ is not None else {}
        try:
            looked = os.stat(root)  # noqa: PTH116 (bytes)
            real = os.path.realpath(root) if stat.S_ISLNK(os.lstat(root).st_mode) else root
        except OSError as error:
            self._refuse(root, reason(error))
            return
        self._compare(_folder(path, id_), [(name, stamp_of(looked))], known, {name: real})
        self.count.files += 1

    def _folder(self, path: bytes, found: Looked) -> None:
        stem = _stem(path)
        if self.own:
            found.files = [one for one in found.files if stem + one[0] not in self.own]
        self.count.files += len(found.files)
        self.count.skipped += found.skipped
        for name, why in found.unreadable:
            self.count.unreadable[stem + name] = why
        id_ = self._known.get(path)
        known = self._remembered(path) if id_ is not None else {}
        self._compare(_folder(path, id_), found.files, known, {})
        if id_ is None:
            return
        there = {name for name, _why in found.unreadable}
        for name, (_stamp, piece, _today) in known.items():
            if name not in there:
                self.count.gone += 1
                self._gone.append((id_, name, piece))

    def _compare(
        self,
        folder: Folder,
        files: Sequence[tuple[bytes, Stamp]],
        known: dict[bytes, snapshot.Known],
        at: dict[bytes, bytes],
    ) -> None:
        """Give what is new or changed to the pool; take every name out of `known`."""
        stem = _stem(folder.path)
        give, met = self.pool.give, self.count.met
        unchanged = 0
        for name, stamp in files:
            before = known.pop(name, None)
            if before is None:
                give((at.get(name) or stem + name, folder, name, None), stamp[0])
            elif before[0] == stamp and before[2]:
                unchanged += 1
                met.add(before[1])
            else:
                give((at.get(name) or stem + name, folder, name, before[1]), stamp[0])
        self.count.unchanged += unchanged
        self.count.done += unchanged

    def _remembered(self, path: bytes) -> dict[bytes, snapshot.Known]:
        """What is remembered of a folder; those that the walk will come to next are fetched with it."""
        if path not in self._fetched:
            start = bisect.bisect_left(self._order, path)
            ahead = self._order[start : start + 200]
            self._fetched = {}
            with self.store.reading() as connection:
                by_id = {self._known[one]: one for one in ahead}
                rows = snapshot.files_in(connection, list(by_id), self.run.stale)
            self._fetched = {by_id[id_]: files for id_, files in rows.items()}
        return self._fetched.pop(path)

    def _gone_folders(self, seen: set[bytes], shut: Sequence[bytes]) -> None:
        """Forget the folders that are no more; of those that could not be looked into nothing is known."""
        gone = [
            id_
            for path, id_ in self._known.items()
            if path not in seen and not any(path.startswith(_stem(one)) for one in shut)
        ]
        if not gone:
            return
        self._write()
        with self.store.writing() as connection:
            went, lost = snapshot.drop_folders(connection, gone)
            self.ingest.lost(connection, lost)
        self.count.gone += went

    # Taking answers and writing

    def _pump(self, what: bytes, *, wait: bool) -> None:
        """Take what was read, write it when there is enough, say where the work is."""
        while True:
            self._take(self.pool.take(0.1 if wait else 0))
            late = self._waiting and time.monotonic() - self._written > WRITE_SECONDS
            if late or len(self._waiting) >= WRITE_AT or self._weight >= MOST_MEMBERS:
                self._write()
            self.progress.report(self.count.done, self.total, os.fsdecode(what))
            if not wait or self.pool.outstanding < MOST_OUTSTANDING:
                return

    def _take(self, answers: Sequence[Answer]) -> None:
        self.count.done += len(answers)
        for one in answers:
            if isinstance(one, Failed):
                self.count.unreadable[_stem(one.folder.path) + one.name] = one.why
                if one.replaces is not None and one.folder.id is not None:
                    self._gone.append((one.folder.id, one.name, one.replaces))
                continue
            self._waiting.append(one)
            if one.piece.members:
                self._weight += len(one.piece.members)

    def _write(self) -> None:
        """Write what waits, all or nothing."""
        self._written = time.monotonic()
        if not self._waiting and not self._gone:
            return
        with self.store.writing() as connection:
            snapshot.name_folders(connection, {id(one.folder): one.folder for one in self._waiting}.values())
            ids = self.ingest.write(connection, self._waiting)
            self.ingest.forget_files(connection, self._gone)
        self._tally(ids)
        self._waiting.clear()
        self._gone.clear()
        self._weight = 0

    def _tally(self, ids: Sequence[int]) -> None:
        count = self.count
        count.met.update(ids)
        for one, id_ in zip(self._waiting, ids, strict=True):
            if one.replaces is None:
                count.new_at.append(id_)
            elif one.replaces == id_:
                count.unchanged += 1
            else:
                count.changed += 1

    # Ending

    def finish(self, roots: Sequence[bytes], *, whole: bool) -> None:
        """Wait for what is still being read; then what can only be done at the end."""
        self.total = self.count.files
        self.pool.push()
        at = roots[0]
        while self.pool.outstanding:
            if self._waiting:
                last = self._waiting[-1]
                at = _stem(last.folder.path) + last.name
            self._pump(at, wait=True)
        self._write()
        self.progress.report(self.count.done, self.total, "what lists and archives say of each other")
        moved = self.ingest.touched.intersection(self.count.new_at)
        self.moved = sum(id_ in moved for id_ in self.count.new_at)
        if self.count.new_at or self.count.changed or whole or self.run.stale:
            more_digests.add(self.store, self.progress)
            signature_checks.add(self.store, self.progress)
        with self.store.writing() as connection:
            self.ingest.sweep(connection, whole=whole)
            for root in roots:
                rows = [(path, why) for path, why in self.count.unreadable.items() if _within(path, root)]
                snapshot.set_unreadable(connection, root, SEP, rows)
            snapshot.end_run(connection, self.run.id)

    def give_up(self) -> None:
        """The work ends early: keep what was read so far, if the catalogue still takes it."""
        self.pool.close()
        with contextlib.suppress(Exception):
            self._take(self.pool.take(0))
            self._write()

    def summary(self, roots: Sequence[bytes], seconds: float) -> IndexSummary:
        """What this call met."""
        count = self.count
        with self.store.reading() as connection:
            met = count.met | places.descendants(connection, snapshot.archives_among(connection, count.met))
            archives = snapshot.archives_among(connection, met)
            troubled = more_unreadable(connection, roots, met)
        told = [Unreadable(os.fsdecode(path), why) for path, why in count.unreadable.items()] + troubled
        named = {os.fsdecode(root) for root in roots}
        anything = bool(count.new_at or count.changed or count.gone)
        return IndexSummary(
            files=count.files,
            pieces=len(met),
            archives=len(archives),
            new=len(count.new_at),
            changed=count.changed,
            unchanged=count.unchanged,
            gone=count.gone,
            unreadable=tuple(sorted(told, key=lambda one: (one.place, one.why))),
            seconds=seconds,
            named_unreadable=count.named_unreadable or any(one.place in named for one in troubled),
            changes=Changes(pieces=anything, vouching=anything),
            moved=self.moved,
            skipped=count.skipped,
        )


def more_unreadable(connection: Connection, roots: Sequence[bytes], met: set[int]) -> list[Unreadable]:
    """Archives that were met and could not be read through, wherever they lie under the roots."""
    troubled = snapshot.troubled_archives(connection, met)
    lies = places.places_of(connection, troubled)
    told: list[Unreadable] = []
    for id_, troubles in troubled.items():
        for place in lies.get(id_, ()):
            if not any(_within(os.fsencode(place.path), root) for root in roots):
                continue
            for name, why in troubles:
                told.append(Unreadable(str(place) if name is None else f"{place} › {name}", why))
    return told


def _within(path: bytes, root: bytes) -> bool:
    return path == root or path.startswith(_stem(root))


def _folder(path: bytes, id_: int | None) -> Folder:
    return Folder(path, os.path.basename(os.fsdecode(path)), id_)  # noqa: PTH119
