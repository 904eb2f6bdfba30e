"""Compare two pieces: field by field, and byte range by byte range."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from catalogue.comparing.bounds import SHOWN_BYTES
from catalogue.comparing.bytes_between import Changed, Found, Stretch, between
from catalogue.comparing.fields_between import fields_of
from catalogue.comparing.members_between import Held, MembersFound, members_between
from catalogue.comparing.pairs import Pair, pairs
from catalogue.comparing.where import Places
from catalogue.errors import BadCall, NotWorkable
from catalogue.formats.view import View
from catalogue.shapes.comparison import Comparison, RangeDifference, Side, Where
from catalogue.shapes.piece import PieceDetail
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.reading import Reading
from catalogue.store import Store
from catalogue.tasks import bundle_members, known, laid_out, show
from catalogue.tasks.context import Context


def run(context: Context, a: str, b: str, progress: Progress = Quiet()) -> Comparison:
    """All that differs between the pieces meant by `a` and `b`, which are named as for `show`.

    Raises BadCall and NotWorkable as `show` does, and NotWorkable where a file changes while it is compared.
    """
    progress.report(0, None, "reading both")
    folders = tuple(_folder(one) for one in (a, b))
    if any(folders):
        return _folders(context, (a, b), folders, progress)
    details = (show.run(context, a), show.run(context, b))
    with show.viewed(context, a) as one, show.viewed(context, b) as other:
        found = _bytes(one, other, details, (a, b), progress)
        readings, layout = _readings(context, details, (one, other))
        paired = list(pairs(*readings))
        members = _members((one, other), (a, b)) if found.differing else None
        ranges = _ranges(found.stretches, (one, other), paired)
    fields = fields_of(paired)
    return Comparison(
        same=not found.differing,
        fields=fields.differing,
        ranges=ranges,
        a=_side(a, details[0], readings[0]),
        b=_side(b, details[1], readings[1]),
        fields_same=fields.same,
        fields_left_out=fields.left_out,
        bytes_differing=found.differing,
        joined_within=found.joined_within,
        layout=layout,
        members=members.differing if members else (),
        members_same=members.same if members else None,
        members_left_out=members.left_out if members else 0,
    )


def _folder(what: str) -> Path | None:
    try:
        return Path(what) if Path(what).is_dir() else None
    except (OSError, ValueError):
        return None


def _folders(
    context: Context, named: tuple[str, str], folders: tuple[Path | None, ...], progress: Progress
) -> Comparison:
    """Two bundles, at least one of them a folder."""
    held: list[dict[str, Held]] = []
    sides: list[Side] = []
    for what, folder in zip(named, folders, strict=True):
        if folder is not None:
            found = bundle_members.of_folder(folder, progress)
            size = sum(one.size for way, one in found.items() if bundle_members.INTO not in way)
            sides.append(Side(what, "", size, "folder", f"Folder of {len(found)} files and members"))
        else:
            detail = show.run(context, what)
            with show.viewed(context, what) as view:
                listed = bundle_members.of_archive(view, what)
            if listed is None:
                raise BadCall(f"{what} is no folder and no archive, so it cannot be compared with a folder.")
            found = listed
            sides.append(_side(what, detail, detail.reading))
        held.append(found)
    members = members_between(held[0], held[1])
    return Comparison(
        same=not members.differing,
        fields=(),
        ranges=(),
        a=sides[0],
        b=sides[1],
        members=members.differing,
        members_same=members.same,
        members_left_out=members.left_out,
    )


def _members(views: tuple[View, View], named: tuple[str, str]) -> MembersFound | None:
    """What differs between the members of two archives; None where one of them is none."""
    held = [bundle_members.of_archive(view, what) for view, what in zip(views, named, strict=True)]
    return None if held[0] is None or held[1] is None else members_between(held[0], held[1])


def _side(what: str, detail: PieceDetail, reading: Reading) -> Side:
    faults = tuple(dict.fromkeys((*(one.text for one in detail.info.faults), *(one.text for one in reading.faults))))
    return Side(what, detail.info.sha256, detail.info.size, reading.kind, reading.title, faults)


def _bytes(
    a: View, b: View, details: tuple[PieceDetail, PieceDetail], named: tuple[str, str], progress: Progress
) -> Found:
    sizes = (details[0].info.size, details[1].info.size)
    total = max(sizes) if sizes[0] == sizes[1] else 4 * max(sizes)
    done = 0

    def tick(count: int) -> None:
        nonlocal done
        done = min(total, done + count)
        progress.report(done, total, "comparing bytes")

    progress.report(0, total, "comparing bytes")
    try:
        if (a.size, b.size) != sizes:
            raise Changed
        if details[0].info.sha256 == details[1].info.sha256:
            return Found((), 0, 0)
        return between(a, b, tick)
    except Changed as error:
        raise NotWorkable(
            f"{named[0]} or {named[1]} changes while it is compared. Try again when whatever writes it is done."
        ) from error


def _readings(
    context: Context, details: tuple[PieceDetail, PieceDetail], views: tuple[View, View]
) -> tuple[tuple[Reading, Reading], str]:
    """The readings of both; by a family's layout where no format is known of them and one fits."""
    readings = (details[0].reading, details[1].reading)
    if any(one.kind != "opaque" or not 0 < one.length <= laid_out.MOST_BYTES for one in readings):
        return readings, ""
    with Store.open(context.catalogue) as store:
        library = known.families(context, store)
    found = laid_out.by_families([view.at(0, view.size) for view in views], library)
    if found is None:
        return readings, ""
    made = tuple(laid or plain for laid, plain in zip(found.readings, readings, strict=True))
    return (made[0], made[1]), f"{found.family}, layout {found.layout}"


def _ranges(
    stretches: Sequence[Stretch], views: tuple[View, View], paired: Sequence[Pair]
) -> tuple[RangeDifference, ...]:
    places = (
        Places((one.path, one.a) for one in paired if one.a is not None),
        Places((one.path, one.b) for one in paired if one.b is not None),
    )
    return tuple(_range(one, views, places) for one in stretches)


def _range(one: Stretch, views: tuple[View, View], places: tuple[Places, Places]) -> RangeDifference:
    where: dict[Where, None] = {}
    for at, length, place in ((one.a_offset, one.a_length, places[0]), (one.b_offset, one.b_length, places[1])):
        if length:
            where.update(dict.fromkeys(place.of(at, length)))
    return RangeDifference(
        offset=one.a_offset,
        length=max(one.a_length, one.b_length),
        a=views[0].at(one.a_offset, min(one.a_length, SHOWN_BYTES)).hex(),
        b=views[1].at(one.b_offset, min(one.b_length, SHOWN_BYTES)).hex(),
        a_length=one.a_length,
        b_offset=one.b_offset,
        b_length=one.b_length,
        cut=max(one.a_length, one.b_length) > SHOWN_BYTES,
        where=tuple(where),
    )
