"""Writing a ready kit to a folder or a mounted volume, and reading it back.

Nothing that somebody else put there is written over or deleted. What is ours is known by our own papers: our mark of
a half-written kit, KIT.JSN of the same kit, SHA256.SUM over the same pieces.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from catalogue.errors import BadCall, NotWorkable, Stopped
from catalogue.families.model import Family
from catalogue.media import disk, kit_folder, kits_list, lines, medium, run_sheet, sums
from catalogue.media.disk import Entry
from catalogue.media.kits_list import KitLine
from catalogue.media.laying import ChangedUnderfoot, Laying, Readable, ToLay
from catalogue.media.medium import Changed, Differs, Folder, Listed, Medium, Needs
from catalogue.media.plan import CARDS, HALFWAY, KIT_JSON, KITS, RUN_SHEET, SUMS, Plan, plan, route_of
from catalogue.media.read_back import MOST_KITS
from catalogue.media.standing import Standing, list_in_the_way, standing
from catalogue.media.target_rules import judge
from catalogue.shapes.as_json import as_text
from catalogue.shapes.changes import Changes
from catalogue.shapes.finding import Finding, Level
from catalogue.shapes.kit import Kit, Word
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import WriteOut, WrittenFile

OpenPiece = Callable[[str], AbstractContextManager[BinaryIO]]
"""Gives a piece's bytes by its SHA-256; raises NotWorkable where they are gone or changed."""


@dataclass(frozen=True, slots=True)
class _Job:
    """All that is known before the first byte is written."""

    kit: Kit
    target: Path
    plan: Plan
    folder: Path
    files: tuple[ToLay, ...]
    roles: dict[str, str]
    sums: bytes
    list: bytes
    standing: Standing

    @property
    def missing(self) -> tuple[ToLay, ...]:
        return tuple(one for one in self.files if one.name not in self.standing.same)


def write(
    kit: Kit,
    family: Family,
    open_piece: OpenPiece,
    target: Path,
    progress: Progress | None = None,
    words: tuple[Word, ...] = (),
    cpu: int | None = None,
) -> WriteOut:
    """Write `kit` into its own folder on `target` and read it back past the page cache.

    Nothing is written where the kit is not ready, or where a target rule stops: then `files` is empty and `findings`
    say why. `words` are a person's words on rules of the medium; `cpu` is the bench's processor (a PE machine),
    None where nobody told.

    A piece whose bytes are not those that were judged ends the work with `changed-since`, and what this run wrote is
    taken away again. A folder of the same kit, whole or half-written, is completed: what lies there with the right
    bytes stays.

    Raises BadCall where `target` is no folder, NotWorkable where the medium fails or is full, Stopped.
    """
    if not target.is_dir():
        raise BadCall(f"{target}: there is no such folder; name a folder or a mounted medium.")
    told = progress or Quiet()
    if kit.verdict != "ready" or any(one.level is Level.STOP for one in kit.findings):
        return WriteOut(str(target), kit)
    with disk.world(target, "looking at it"):
        job = _prepared(kit, family, open_piece, target)
        before = _before(job, family, cpu)
    said = (*kit.words, *words)
    findings = judge(before, said)
    if _stops(findings):
        return WriteOut(str(target), kit, findings=findings)
    count = _Count(told, sum(one.size for one in job.missing) + sum(one.size for one in job.files))
    try:
        if not job.standing.whole:
            with disk.world(target, "writing the kit"):
                _lay(job, count)
    except ChangedUnderfoot as changed:
        return WriteOut(str(target), kit, findings=judge(_changed(before, job, changed), said))
    return _read(job, before, count, said)


def _prepared(kit: Kit, family: Family, open_piece: OpenPiece, target: Path) -> _Job:
    made = plan(kit, family)
    planned = {one.sha256 for one in made.files}
    for choice in kit.roles:
        for sha256 in choice.pieces:
            if sha256 not in planned and not made.clashes:
                raise ValueError(f"{choice.role}: the plan has no file for {sha256}")
    files = [
        ToLay(one.name, one.sha256, one.size, _opener(open_piece, one.sha256, one.name), one.kind == "linux-program")
        for one in made.files
    ]
    files += [
        _paper(KIT_JSON, as_text(kit).encode("ascii")),
        _paper(RUN_SHEET, run_sheet.text(kit, family, made).encode("ascii")),
    ]
    listed = sums.text((one.name, one.sha256) for one in files)
    entries, _ = disk.listing(target)
    here = KitLine(made.code, kit.family_title, kit.route, kit.id)
    kits = kits_list.text([*_other_kits(target, entries, made.code).values(), here])
    stands = standing(target, made.code, kit.id, tuple(files), {SUMS: listed, KITS: kits})
    roles = {one.name: ", ".join(one.roles) for one in made.files}
    return _Job(kit, target, made, target / made.code, tuple(files), roles, listed, kits, stands)


def _paper(name: str, data: bytes) -> ToLay:
    return ToLay(name, hashlib.sha256(data).hexdigest(), len(data), lambda: BytesIO(data))


def _opener(open_piece: OpenPiece, sha256: str, name: str) -> Callable[[], AbstractContextManager[Readable]]:
    """Opens a piece; one that is gone or changed is no fault of the medium but a piece other than was judged."""

    @contextmanager
    def opened() -> Iterator[Readable]:
        try:
            source = open_piece(sha256)
            stream = source.__enter__()
        except Stopped:
            raise
        except (NotWorkable, OSError) as error:
            raise ChangedUnderfoot(name, str(error)) from error
        try:
            yield _Source(stream, name)
        finally:
            source.__exit__(None, None, None)

    return opened


class _Source:
    """A piece's stream, whose failing reads are told apart from those of the medium."""

    def __init__(self, stream: BinaryIO, name: str) -> None:
        self.stream = stream
        self.name = name

    def read(self, size: int, /) -> bytes:
        try:
            return self.stream.read(size)
        except Stopped:
            raise
        except (NotWorkable, OSError) as error:
            raise ChangedUnderfoot(self.name, str(error)) from error


def _before(job: _Job, family: Family, cpu: int | None) -> Medium:
    """The medium as it is before anything is written, with what writing will take."""
    entries, more = disk.listing(job.target)
    kits = _other_kits(job.target, entries, job.plan.code)
    root = tuple(one for one in entries if one.name not in kits and one.name != job.plan.code)
    kinds = {one.sha256: one for one in job.plan.files}
    listed = tuple(
        Listed(
            one.name, one.sha256, *((kinds[one.sha256].kind, kinds[one.sha256].roles) if one.sha256 in kinds else ())
        )
        for one in job.files
    )
    steps = [(step.name, lines.longest(step, family, job.plan)) for step in route_of(job.kit, family).steps]
    folder = Folder(job.plan.code, job.kit, listed, job.standing.entries, (), job.standing.foreign)
    changed: tuple[Changed, ...] = ()
    if family.sha256 != job.kit.family_sha256:
        changed = (Changed(f"The family file of {family.id}", "", "", job.kit.family_sha256, family.sha256),)
    return Medium(
        target=str(job.target),
        folders=(folder,),
        root=root,
        more=more,
        starters=medium.starters(job.target, entries),
        clashes=(*job.plan.clashes, *list_in_the_way(job.target, entries)),
        space=medium.space(job.target, entries),
        needs=_needs(job, entries),
        lines=tuple((name, line) for name, line in steps if line is not None),
        changed=changed,
        bench=job.plan.bench,
        boot=medium.boot(job.target, entries, cpu),
    )


def _needs(job: _Job, entries: tuple[Entry, ...]) -> Needs:
    if job.standing.whole:
        return Needs()
    names = {one.name for one in entries}
    sizes = {one.name: one.size for one in job.missing}
    sizes |= {SUMS: len(job.sums), HALFWAY: 1, KITS: kits_list.MAX_KIT * (1 + len(names & {KITS}))}
    return Needs(sizes, len({KITS, job.plan.code} - names))


def _other_kits(target: Path, entries: tuple[Entry, ...], but: str) -> dict[str, KitLine]:
    """The whole kits of other folders, by folder."""
    found: dict[str, KitLine] = {}
    for one in entries:
        if one.kind == "folder" and one.name not in (but, CARDS) and len(found) < MOST_KITS:
            if not (target / one.name / KIT_JSON).is_file():
                continue
            papers = kit_folder.papers(target / one.name)
            if papers.kit is not None and papers.sums is not None:
                kit = papers.kit
                found[one.name] = KitLine(one.name, kit.family_title, kit.route, kit.id)
    return found


def _lay(job: _Job, count: _Count) -> None:
    made_folder = not job.standing.exists
    if made_folder:
        job.folder.mkdir()
    with Laying(job.folder, job.kit.id, made_folder, count.writing) as laying:
        laying.begin(job.standing.leftovers)
        laying.lay(job.missing)
        laying.finish(job.sums, job.list, job.target / KITS)


def _changed(before: Medium, job: _Job, changed: ChangedUnderfoot) -> Medium:
    one = next(one for one in job.files if one.name == changed.name)
    role = job.roles.get(one.name, "")
    told = Changed(one.name, one.sha256, role.partition(", ")[0], one.sha256, changed.have)
    return replace(before, changed=(*before.changed, told))


def _read(job: _Job, before: Medium, count: _Count, said: tuple[Word, ...]) -> WriteOut:
    """Read the folder back and judge the medium as it is now."""
    with disk.world(job.target, "reading it back"):
        papers = kit_folder.papers(job.folder)
        looked = kit_folder.look(job.folder, job.plan.code, papers, count.reading)
        have = disk.small(job.folder / SUMS, sums.MAX_BYTES) if papers.sums is not None else None
    folder = looked.folder
    if have != job.sums and not any(one.name == SUMS for one in folder.differs):
        wrong = Differs(SUMS, f"{SUMS} is not what was written.", "our list", "other bytes")
        folder = replace(folder, differs=(*folder.differs, wrong))
    after = replace(before, folders=(folder,), clashes=(), space=None, needs=Needs(), lines=())
    findings = judge(after, said)
    files = tuple(WrittenFile(one.name, job.roles.get(one.name, ""), one.sha256, one.size) for one in job.files)
    listed = WrittenFile(SUMS, "", hashlib.sha256(job.sums).hexdigest(), len(job.sums))
    return WriteOut(
        target=str(job.target),
        kit=job.kit,
        files=(*files, listed),
        findings=findings,
        read_back="differs" if _stops(findings) else "same",
        folder=job.plan.code,
        changes=Changes(media=True),
    )


def _stops(findings: tuple[Finding, ...]) -> bool:
    return any(one.level is Level.STOP for one in findings)


class _Count:
    """Adds up the bytes written and read back, for one line of progress."""

    def __init__(self, told: Progress, total: int) -> None:
        self.told = told
        self.total = total
        self.done = 0
        told.report(0, total, "writing the kit")

    def writing(self, count: int, name: str) -> None:
        self._more(count, f"writing {name}")

    def reading(self, count: int, name: str) -> None:
        self._more(count, f"reading back {name}")

    def _more(self, count: int, what: str) -> None:
        self.done += count
        self.told.report(self.done, self.total, what)
