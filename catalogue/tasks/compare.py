"""Compare two pieces: field by field, and byte range by byte range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from catalogue.comparing.bounds import SHOWN_BYTES
from catalogue.comparing.bytes_between import Changed, Found, Stretch, between
from catalogue.comparing.fields_between import fields_of
from catalogue.comparing.pairs import Pair, pairs
from catalogue.comparing.where import Places
from catalogue.errors import NotWorkable
from catalogue.formats.view import View
from catalogue.shapes.comparison import Comparison, RangeDifference, Where
from catalogue.shapes.piece import PieceDetail
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.reading import Reading
from catalogue.store import Store
from catalogue.tasks import compare_bundles as bundles
from catalogue.tasks import known, laid_out, show
from catalogue.tasks.context import Context


def run(context: Context, a: str, b: str, progress: Progress = Quiet()) -> Comparison:
    """All that differs between the pieces meant by `a` and `b`, which are named as for `show`.

    Raises BadCall and NotWorkable as `show` does, and NotWorkable where a file changes while it is compared.
    """
    progress.report(0, None, "reading both")
    folders = (bundles.folder(a), bundles.folder(b))
    if any(folders):
        return bundles.with_folders(context, (a, b), folders, progress)
    details = (show.run(context, a), show.run(context, b))
    with show.viewed(context, a) as one, show.viewed(context, b) as other:
        found = _bytes(one, other, details, (a, b), progress)
        readings, layout = _readings(context, details, (one, other))
        paired = list(pairs(*readings))
        members = bundles.archives((one, other), (a, b), progress) if found.differing else None
        ranges = _ranges(found.stretches, (one, other), paired)
    if members is not None:
        paired = [*map(_without_members, paired[:1]), *paired[1:], *members.paired]
    fields = fields_of(paired)
    return Comparison(
        same=not found.differing,
        fields=fields.differing,
        ranges=ranges,
        a=bundles.side(a, details[0], readings[0]),
        b=bundles.side(b, details[1], readings[1]),
        fields_same=fields.same,
        fields_left_out=fields.left_out,
        bytes_differing=found.differing,
        joined_within=found.joined_within,
        layout=layout,
        members=members.found.differing if members else (),
        members_same=members.found.same if members else None,
        members_left_out=members.found.left_out if members else 0,
        notes=members.notes if members else (),
    )


def _without_members(pair: Pair) -> Pair:
    """The pair without the lists of members, which are compared by what the members hold."""
    lists = [replace(one, members=()) if one is not None else None for one in (pair.a, pair.b)]
    return Pair(pair.path, lists[0], lists[1])


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
