"""Compare two bundles, folders or archives: which members differ, and the fields of those that changed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from catalogue.comparing.bounds import MAX_READ_MEMBERS
from catalogue.comparing.fields_between import fields_of
from catalogue.comparing.members_between import MembersFound, bundles_between
from catalogue.comparing.pairs import INTO as PART_OF
from catalogue.comparing.pairs import WHOLE, Pair, pairs
from catalogue.errors import BadCall
from catalogue.formats.view import View
from catalogue.intake.containers import is_archive
from catalogue.shapes.comparison import Comparison, Side
from catalogue.shapes.piece import INTO, PieceDetail
from catalogue.shapes.progress import Progress
from catalogue.shapes.reading import Reading
from catalogue.tasks import bundle_members, show
from catalogue.tasks.bundle_members import Gathered
from catalogue.tasks.context import Context

MOST_NOTES = 20
_Again = Callable[[Collection[str]], Gathered | None]
"""Gathers a bundle: with ways, only the members there and their readings."""


@dataclass(frozen=True, slots=True)
class Bundles:
    """What differs between the members of two bundles; the parts of those that changed are `paired` for their fields.

    `notes` are sentences about what could not be compared.
    """

    found: MembersFound
    paired: tuple[Pair, ...]
    notes: tuple[str, ...]
    whole: bool


def folder(what: str) -> Path | None:
    """The folder at that path; None where there is none."""
    try:
        return Path(what) if Path(what).is_dir() else None
    except (OSError, ValueError):
        return None


def side(what: str, detail: PieceDetail, reading: Reading) -> Side:
    """A piece as one side of a comparison."""
    faults = tuple(dict.fromkeys((*(one.text for one in detail.info.faults), *(one.text for one in reading.faults))))
    return Side(what, detail.info.sha256, detail.info.size, reading.kind, reading.title, faults)


def with_folders(
    context: Context, named: tuple[str, str], folders: tuple[Path | None, Path | None], progress: Progress
) -> Comparison:
    """Compare two bundles, at least one of them a folder.

    Raises BadCall and NotWorkable as `show` does, BadCall also where one is neither folder nor archive.
    """
    agains = [_again(context, what, place, progress) for what, place in zip(named, folders, strict=True)]
    sides: list[Side] = []
    made: list[Gathered] = []
    for what, place, again in zip(named, folders, agains, strict=True):
        detail = None if place is not None else show.run(context, what)
        gathered = again(())
        if gathered is None:
            raise BadCall(f"{what} is no folder and no archive, so it cannot be compared with a folder.")
        made.append(gathered)
        if detail is not None:
            sides.append(side(what, detail, detail.reading))
            continue
        size = sum(one.size for way, one in gathered.held.items() if INTO not in way)
        sides.append(Side(what, "", size, "folder", f"Folder of {len(gathered.held)} files and members"))
    done = _between((made[0], made[1]), (agains[0], agains[1]))
    fields = fields_of(done.paired)
    return Comparison(
        same=done.whole and not done.found.differing,
        fields=fields.differing,
        ranges=(),
        a=sides[0],
        b=sides[1],
        fields_same=fields.same,
        fields_left_out=fields.left_out,
        members=done.found.differing,
        members_same=done.found.same,
        members_left_out=done.found.left_out,
        notes=done.notes,
    )


def archives(views: tuple[View, View], named: tuple[str, str], progress: Progress) -> Bundles | None:
    """What differs between two archives; None where one of them is none."""

    def again(at: int, wanted: Collection[str]) -> Gathered | None:
        return bundle_members.of_archive(views[at], named[at], progress, wanted)

    one, other = again(0, ()), again(1, ())
    if one is None or other is None:
        return None
    return _between((one, other), (lambda wanted: again(0, wanted), lambda wanted: again(1, wanted)))


def _again(context: Context, what: str, place: Path | None, progress: Progress) -> _Again:
    def again(wanted: Collection[str]) -> Gathered | None:
        if place is not None:
            return bundle_members.of_folder(place, progress, wanted)
        with show.viewed(context, what) as view:
            return bundle_members.of_archive(view, what, progress, wanted)

    return again


def _between(made: tuple[Gathered, Gathered], agains: tuple[_Again, _Again]) -> Bundles:
    found = bundles_between(*made)
    changed = [one.name for one in found.differing if one.state == "changed"]
    notes = list(islice(_unread(made), MOST_NOTES))
    if len(changed) > MAX_READ_MEMBERS:
        notes.append(f"Only the first {MAX_READ_MEMBERS} of the changed members were compared field by field.")
    ways = frozenset(changed[:MAX_READ_MEMBERS])
    paired: list[Pair] = []
    if ways:
        one, other = (again(ways) for again in agains)
        assert one is not None and other is not None
        for way in sorted(ways & one.readings.keys() & other.readings.keys()):
            paired += _paired(way, one.readings[way], other.readings[way])
    whole = all("" not in one.unread for one in made)
    return Bundles(found, tuple(paired), tuple(notes), whole)


def _unread(made: tuple[Gathered, Gathered]) -> Iterator[str]:
    for letter, one in zip("AB", made, strict=True):
        for before, why in one.unread.items():
            place = before.removesuffix(INTO).rstrip("/")
            which = f"{place} of {letter}" if place else letter
            yield f"{which} is not sound, so what it seems to lack is unknown: {why}"


def _paired(way: str, a: Reading, b: Reading) -> Iterator[Pair]:
    """The parts of a changed member, under its name. Archives are compared by their own members."""
    if is_archive(a) and is_archive(b):
        return
    for one in pairs(a, b):
        yield Pair(way if one.path == WHOLE else f"{way}{PART_OF}{one.path}", one.a, one.b)
