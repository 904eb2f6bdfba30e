"""The window's only door to the catalogue's tasks, each imported when it is first wanted.

Importing them takes longer than painting the window (the store brings SQLAlchemy), so lanes do it, not the start.
"""

from __future__ import annotations

from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from catalogue.errors import NotWorkable
from ui.jobs import Stopper, asked_apart
from ui.text import last_name, name_of, plain

if TYPE_CHECKING:
    from catalogue.shapes.changes import Changes
    from catalogue.shapes.comparison import Comparison
    from catalogue.shapes.draft import Question
    from catalogue.shapes.finding import Evidence
    from catalogue.shapes.host import Host
    from catalogue.shapes.host_form import HostFacts, SavedFile
    from catalogue.shapes.kit import Kit, Pin
    from catalogue.shapes.manual import RuleManual
    from catalogue.shapes.mending import Mending
    from catalogue.shapes.piece import PieceDetail
    from catalogue.shapes.progress import Progress
    from catalogue.shapes.reading import Reading
    from catalogue.shapes.releases import AddedRelease, Mention, NewRelease
    from catalogue.shapes.results import (
        Accepted,
        FactLine,
        FactsIn,
        FactsOut,
        FamilyInfo,
        FamilyMatch,
        HostInfo,
        ReadBack,
        Stale,
        Vouched,
        WordGiven,
        WrittenKit,
    )
    from catalogue.shapes.shelf import ShelfRow, ShelfState
    from catalogue.shapes.target import Target, TextLines
    from catalogue.shapes.why_not import WhyNot
    from catalogue.tasks.context import Context


def warm_up() -> None:
    """Import what the Shelf's first questions need."""
    from catalogue.tasks import shelf  # noqa: F401


def shelf_state(context: Context) -> ShelfState:
    """How the shelf stands."""
    from catalogue.tasks import shelf

    return shelf.state(context)


def shelf_ids(
    context: Context,
    query: str,
    *,
    only_new: bool = False,
    kind: str = "",
    most: int | None = None,
    stopper: Stopper | None = None,
) -> array[int]:
    """The ids of the pieces that answer to `query`, newest first; all of them for an empty one, the first `most`."""
    from catalogue.tasks import shelf

    stopped = (lambda: stopper.stopped) if stopper is not None else None
    return shelf.ids(context, query, only_new=only_new, kind=kind or None, most=most, stopped=stopped)


def shelf_rows(context: Context, ids: Sequence[int]) -> list[ShelfRow]:
    """The rows of those ids, in their order."""
    from catalogue.tasks import shelf

    return shelf.rows(context, ids)


def piece(context: Context, what: str) -> PieceDetail:
    """One piece read in full, by path or hash."""
    from catalogue.tasks import show

    return show.run(context, what)


def bytes_of(context: Context, what: str, offset: int, length: int) -> bytes:
    """Bytes of a piece."""
    from catalogue.tasks import show

    return show.bytes_of(context, what, offset, length)


def part_bytes(context: Context, what: str, whole: Reading, way: Sequence[int]) -> bytes | None:
    """The unpacked bytes that a part's offsets count in; None where it lies in the piece's own, or does not unpack."""
    from catalogue.tasks import show

    return show.part_bytes(context, what, whole, way)


def member(context: Context, sha256: str, name: str) -> str:
    """The SHA-256 of a member of an archive."""
    from catalogue.tasks import show

    return show.member(context, sha256, name)


def compare(context: Context, a: str, b: str, stopper: Stopper) -> Comparison:
    """What differs between two pieces."""
    from catalogue.tasks import compare as task

    return task.run(context, a, b, stopper)


def families(context: Context) -> list[FamilyInfo]:
    """All families with what is wrong with their files."""
    from catalogue.tasks import families as task

    return task.run(context)


def families_folder() -> Path:
    """The folder of the user's own family files; it need not exist."""
    from catalogue.tasks import settings

    return settings.user_families()


@dataclass(frozen=True, slots=True)
class RouteInfo:
    """A route in words: its id, the mode it leaves, the mode it comes to, and the bench it runs on."""

    id: str
    source: str
    target: str
    bench: str

    @property
    def words(self) -> str:
        """One line for a person."""
        if not self.source:
            return name_of(self.id)
        bench = {
            "dos": "DOS",
            "uefi": "the UEFI shell",
            "linux": "Linux",
            "clip": "no system, with an external programmer",
        }
        return f"{name_of(self.source)} mode to {name_of(self.target)} mode, under {bench.get(self.bench, self.bench)}"


@dataclass(frozen=True, slots=True)
class Named:
    """What a piece is called on the screen: its file's name, what it is, and where it lies."""

    title: str
    what: str = ""
    place: str = ""


def routes(context: Context, family: str) -> tuple[RouteInfo, ...]:
    """A family's routes, the first first."""
    from catalogue.tasks import families as task

    found = task.detail(context, family)
    return tuple(RouteInfo(one.id, one.source_mode, one.target_mode, one.bench) for one in found.routes)


def names_for(context: Context, kit: Kit) -> dict[str, Named]:
    """What the pieces of a kit and those that could take their place are called."""
    wanted = {piece for role in kit.roles for piece in (*role.pieces, *(one.piece for one in role.others[:40]))}
    made: dict[str, Named] = {}
    for sha256 in sorted(wanted):
        for row in shelf_rows(context, shelf_ids(context, sha256)[:1]):
            made[sha256] = Named(last_name(row.place) or row.title, plain(row.title, 200) or row.kind, row.place)
    return made


def save_run_sheet(
    context: Context,
    family: str,
    route: str,
    pins: tuple[Pin, ...],
    where: Path,
    host: str = "",
    saved: tuple[Path, ...] = (),
) -> Path:
    """Write the run sheet into a file. Raises NotWorkable where that cannot be done."""
    sheet = run_sheet(context, family, route, pins, host, saved)
    try:
        where.write_bytes(sheet.encode("ascii", "replace"))
    except OSError as problem:
        raise NotWorkable(f"The run sheet could not be written to {where}: {problem.strerror}.") from problem
    return where


def find_family(context: Context, text: str) -> list[FamilyMatch]:
    """The families that a card as it shows itself belongs to."""
    from catalogue.tasks import find_family as task

    return task.run(context, text)


def accept_family(context: Context, file: Path) -> Accepted:
    """Settle a family file."""
    from catalogue.tasks import accept_family as task

    return task.run(context, file)


def look_at_family(context: Context, file: Path, progress: Progress) -> Accepted:
    """What accepting a family file would prove and change; nothing is recorded."""
    from catalogue.tasks import accept_family as task

    return task.run(context, file, progress, only_look=True)


def kit(
    context: Context,
    family: str,
    route: str | None,
    pins: tuple[Pin, ...],
    progress: Progress,
    host: str = "",
    *,
    saved: tuple[Path, ...] = (),
) -> Kit:
    """Choose and prove a kit, for the machines of a kept host where one is named, and for the cards of saved texts."""
    from catalogue.tasks import kit as task

    return task.run(context, family, route, pins=pins, host=_host(host), saved=saved, progress=progress)


def mending(
    context: Context,
    family: str,
    route: str,
    pins: tuple[Pin, ...],
    progress: Progress,
    host: str = "",
    *,
    saved: tuple[Path, ...] = (),
) -> Mending:
    """What would make a kit ready."""
    from catalogue.tasks import explain

    made = explain.run(context, family, route, pins=pins, host=_host(host), saved=saved, mend=True, progress=progress)
    assert made.mend is not None
    return made.mend


def why_not(
    context: Context,
    family: str,
    route: str,
    pins: tuple[Pin, ...],
    wish: tuple[str, str],
    host: str = "",
    *,
    saved: tuple[Path, ...] = (),
) -> WhyNot:
    """Why a piece is not the one that was chosen for a role."""
    from catalogue.tasks import explain

    found = explain.run(context, family, route, pins=pins, host=_host(host), saved=saved, why=[wish]).why
    assert found is not None
    return found[0]


def evidence_target(context: Context, evidence: Evidence, piece: str | None) -> Target:
    """What a piece of evidence leads to."""
    from catalogue.tasks import evidence as task

    return task.target(context, evidence, piece)


def text_lines(context: Context, target: Target) -> TextLines:
    """The lines around the one that a target leads to."""
    from catalogue.tasks import evidence as task

    return task.text(context, target)


def _host(name: str) -> Host:
    from catalogue.shapes.host import NO_HOST
    from catalogue.tasks import hosts as task

    return task.load(name) if name else NO_HOST


def hosts() -> list[HostInfo]:
    """The hosts that are kept."""
    from catalogue.tasks import hosts as task

    return task.run()


def keep_host(file: Path) -> HostInfo:
    """Keep a host file under its name."""
    from catalogue.tasks import hosts as task

    return task.keep(file)


def cpu_names() -> tuple[str, ...]:
    """The words for processors, as a host file has them."""
    from catalogue.tasks import host_form

    return host_form.CPU_NAMES


def host_facts(file: str) -> HostFacts:
    """The facts of a kept host file."""
    from catalogue.tasks import host_form

    return host_form.facts(file)


def host_file(file: Path, *, esrt: bool) -> SavedFile:
    """What a file that is chosen for a host holds."""
    from catalogue.tasks import host_form

    return host_form.looked_at(file, esrt=esrt)


def save_host(facts: HostFacts) -> HostFacts:
    """Keep a host file with these facts."""
    from catalogue.tasks import host_form

    return host_form.save(facts)


def words(context: Context, family: str) -> list[WordGiven]:
    """The words on record for a family, with what has changed since."""
    from catalogue.tasks import words as task

    return task.listed(context, family)


def take_back_word(context: Context, family: str, code: str, sha256: str) -> Changes:
    """Take a person's word back."""
    from catalogue.tasks import words as task

    return task.take_back(context, family, code, sha256)


def notes(file: Path) -> list[Mention]:
    """The versions that a maker's notes mention."""
    from catalogue.tasks import releases

    return releases.mentioned(file)


def add_release(context: Context, family: str, new: NewRelease) -> AddedRelease:
    """Put a release into a family file of the user's own."""
    from catalogue.tasks import releases

    return releases.add(context, family, new)


def rule(code: str) -> RuleManual:
    """The manual of a rule. Raises BadCall where no rule has the code."""
    from catalogue.tasks import rules

    return rules.run((code,))[0]


def facts(context: Context) -> list[FactLine]:
    """What people recorded here."""
    from catalogue.tasks import facts as task

    return task.run(context)


def take_back_fact(context: Context, fact: str, *, reason: str, by: str) -> Changes:
    """Take a recorded fact back."""
    from catalogue.tasks import facts as task

    return task.take_back(context, fact, reason, by).changes


def record_source(context: Context, file: Path, *, source: str, by: str) -> Vouched:
    """Record a checksum list, or else a public key, with where it came from."""
    from catalogue.errors import BadCall
    from catalogue.tasks import vouch as task

    try:
        return task.record_list(context, file, source, by)
    except BadCall as no_list:
        try:
            return task.record_key(context, file, source, by)
        except BadCall as no_key:
            raise BadCall(f"{file.name} is neither a checksum list nor a public key.") from (no_list or no_key)


def facts_in(context: Context, file: Path, *, by: str = "", accept: bool = False, words: bool = False) -> FactsIn:
    """What another bench's facts file holds; with `accept`, what of it was taken in."""
    from catalogue.tasks import facts_in as task

    return task.run(context, file, by, accept=accept, words=words)


def facts_out(context: Context, file: Path, *, by: str, bench: str, families: Sequence[str] = ()) -> FactsOut:
    """Hand out what was recorded here, and family files."""
    from catalogue.tasks import facts_out as task

    return task.run(context, file, by, bench, families)


def bench_name(context: Context) -> str:
    """What this bench calls itself, "" where nobody said so yet."""
    from catalogue.tasks import facts_out as task

    return task.bench_name(context)


def give_word(context: Context, family: str, code: str, sha256: str, *, reason: str, by: str) -> Changes:
    """Record a person's word."""
    from catalogue.tasks import words as task

    return task.give(context, family, code, sha256, reason, by)


def run_sheet(
    context: Context,
    family: str,
    route: str,
    pins: tuple[Pin, ...],
    host: str = "",
    saved: tuple[Path, ...] = (),
) -> str:
    """The run sheet's text."""
    from catalogue.tasks import kit_sheet

    return kit_sheet.run(context, family, route, pins=pins, host=_host(host), saved=saved)


@dataclass(frozen=True, slots=True)
class Laid:
    """How a kit will lie on a medium: its folder's short code, and (8.3 name, roles, size) of every file."""

    code: str
    files: tuple[tuple[str, tuple[str, ...], int], ...]


def laid(context: Context, kit: Kit) -> Laid:
    """How a kit will lie on a medium."""
    from catalogue.tasks import kit_names

    plan = kit_names.run(context, kit)
    return Laid(plan.code, tuple((one.name, one.roles, one.size) for one in plan.files))


def stale(context: Context, stopper: Stopper) -> list[Stale]:
    """What is stale or withdrawn, worked out in a process of its own: it may have to look through every piece."""
    from datetime import date

    from catalogue.shapes.results import Stale

    found = asked_apart(context, ["stale", "--json"], stopper)
    rows = found if isinstance(found, list) else []
    return [Stale(**{**row, "as_of": date.fromisoformat(row["as_of"])}) for row in rows]


def written_kits(context: Context) -> list[WrittenKit]:
    """The kits that were written out, newest first."""
    from catalogue.tasks import written

    return written.run(context)


def read_back(target: Path, progress: Progress) -> ReadBack:
    """Compare a medium with what it says of itself."""
    from catalogue.tasks import read_back as task

    return task.run(target, progress)


def draft_questions(text: str) -> tuple[Question, ...]:
    """The open questions of a drafted family file."""
    from catalogue.tasks import finish_draft

    return finish_draft.asked(text)


def draft_answer(text: str, key: str, value: str | Mapping[str, str] | None) -> str:
    """A drafted family file with one question answered."""
    from catalogue.tasks import finish_draft

    return finish_draft.answer(text, key, value)


def draft_check(context: Context, text: str, progress: Progress) -> Accepted:
    """What accepting a drafted family file would prove."""
    from catalogue.tasks import finish_draft

    return finish_draft.check(context, text, progress)


def draft_keep(context: Context, text: str, name: str, progress: Progress) -> tuple[Accepted, Path]:
    """Accept a drafted family file and keep it."""
    from catalogue.tasks import finish_draft

    return finish_draft.keep(context, text, name, progress)
