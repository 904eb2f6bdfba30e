"""ISO 9660 images: every tree of folders, boot images, and the partition tables that hybrid images carry.

ECMA-119 (ISO 9660), Joliet, Rock Ridge (SUSP and RRIP 1.12), El Torito 1.0. Of several trees the one with the fullest
names gives the members' names; what only another tree lists is a member too, so that nothing is hidden.
"""

from __future__ import annotations

from dataclasses import replace

from catalogue.formats.disk_files import UNREAD, DiskFile, Listing, reading, settle
from catalogue.formats.disk_image import partition_file
from catalogue.formats.iso_boot import BootImage, boot_catalogue
from catalogue.formats.iso_volume import ENHANCED, JOLIET, PRIMARY, START, Volume, begins, volume
from catalogue.formats.iso_walk import Walked, walk
from catalogue.formats.partition_table import hybrid_partitions
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.udf_volume import is_udf
from catalogue.formats.view import View
from catalogue.shapes.reading import Field, Reading

KIND = "archive/iso"
_TRIM = frozenset(("system_id", "volume_id", "publisher_id", "preparer_id", "application_id"))
_BOOT_SOURCE = "El Torito 1.0, 2.0"


def looks_like(view: View) -> Looks:
    """SURE where a sound primary volume descriptor stands behind the first 16 sectors."""
    return Looks.SURE if begins(view) and volume(view) is not None else Looks.NO


def maybe(data: bytes) -> bool:
    """Whether `looks_like` could say anything but NO."""
    return data[START + 1 : START + 6] == b"CD001"


def read(view: View) -> Reading | None:
    """The image that fills `view`; None where its volume descriptors are not sound."""
    listing = files(view)
    return None if listing is None else reading(listing, "iso", KIND, "ISO 9660 image")


def files(view: View, *, beside_udf: bool = False) -> Listing | None:
    """As `read`, for unpacking: the files with where they lie. `beside_udf`: a UDF volume of the image is read too."""
    found = volume(view)
    if found is None:
        return None
    listing = Listing(view, fields=[_trimmed(one) for one in found.found.values()])
    if not beside_udf and is_udf(view):
        listing.odd("It carries a UDF file system too, which could not be read.", START, UNREAD)
    _whole(listing, found)
    _trees(listing, found)
    _boot(listing, found)
    _hybrid(listing)
    settle(listing, links=True)
    return listing


def _trimmed(one: Field) -> Field:
    return replace(one, value=one.value.rstrip()) if one.name in _TRIM and isinstance(one.value, str) else one


def _whole(listing: Listing, found: Volume) -> None:
    view = listing.view
    listing.span("system area", 0, START)
    listing.span("volume descriptors", START, found.end - START)
    if view.size < found.total_bytes:
        text = f"It is cut short: its volume counts {found.total_bytes} bytes, {view.size} are there."
        listing.damaged(text, view.size)
    if not found.closed:
        listing.damaged("The list of its volume descriptors has no end.", found.end)
    for text, at in found.odd:
        listing.odd(text, at)


def _trees(listing: Listing, found: Volume) -> None:
    """The files of the tree with the fullest names, then those that only another tree lists."""
    walked = [(tree.kind, walk(listing.view, tree)) for tree in found.trees]
    primary = walked[0][1]
    order = {JOLIET: 1, ENHANCED: 2, PRIMARY: 0 if primary.rock_ridge else 3}
    walked.sort(key=lambda one: order[one[0]])
    names = ["primary (Rock Ridge)" if kind == PRIMARY and one.rock_ridge else kind for kind, one in walked]
    what = "Trees of folders; the first names the members"
    listing.fields.append(Field("trees", tuple(names), None, 0, what, "ECMA-119, 8.4 and 8.5; RRIP; Joliet"))
    for (kind, one), name in zip(walked, names, strict=True):
        for text, at in one.faults:
            listing.damaged(text, at)
        for text, at in one.odd[:1]:
            listing.odd(text, at)
        if one.associated:
            listing.odd(f"Associated files, which are not read: {one.associated}.")
        for offset, length in one.folders[:16]:
            listing.span(f"folder of the {kind} tree", offset, length)
        if one is walked[0][1]:
            _first(listing, one, primary)
        else:
            _other(listing, one, name)


def _first(listing: Listing, main: Walked, primary: Walked) -> None:
    """The members' own tree, with the primary tree's names beside the long ones."""
    short: dict[object, str] = {}
    if main is not primary:
        for one in primary.files:
            if one.extents:
                short[one.extents] = "" if one.extents in short else one.name
    for one in main.files:
        other = short.get(one.extents, "") if one.extents else ""
        named = replace(one, short_name=other) if other and other != one.name and not one.short_name else one
        if not listing.add(named):
            return


def _other(listing: Listing, one: Walked, name: str) -> None:
    known = {file.extents for file in listing.files if file.extents}
    more = [file for file in one.files if file.extents and file.extents not in known]
    if more:
        listing.odd(f"Files that only its {name} tree lists: {len(more)}.", more[0].listed_at)
    taken = {file.name for file in listing.files}
    for file in more:
        if not listing.add(replace(file, name=f"{name} tree/{file.name}") if file.name in taken else file):
            return


def _boot(listing: Listing, found: Volume) -> None:
    if found.catalogue is None:
        return
    catalogue = boot_catalogue(listing.view, found.catalogue)
    if catalogue.fault:
        listing.damaged(catalogue.fault, found.catalogue if found.catalogue < listing.view.size else 0)
    listing.span("boot catalogue", found.catalogue, catalogue.end - found.catalogue)
    starts = {one.extents[0][0]: one for one in listing.files if one.extents}
    for image in catalogue.images:
        known = starts.get(image.offset)
        name = known.name if known is not None else f"boot-image-{image.number}.img"
        said = f"{image.platform}, {image.media}, {name}" + ("" if image.bootable else ", not bootable")
        what = "Image that a machine starts from"
        listing.fields.append(Field(f"boot_{image.number}", said[:4_000], image.listed_at, 32, what, _BOOT_SOURCE))
        if known is None:
            _boot_member(listing, image, name)


def _boot_member(listing: Listing, image: BootImage, name: str) -> None:
    if not image.length:
        listing.odd(f"Nothing tells how long boot image {image.number} is; it is no member.", image.listed_at)
        return
    listing.add(DiskFile(name, image.length, ((image.offset, image.length),), listed_at=image.listed_at))


def _hybrid(listing: Listing) -> None:
    """Partitions of a hybrid image that lie outside the volume's files are members too."""
    partitions = hybrid_partitions(listing.view)
    if not partitions:
        return
    count = f"{len(partitions)} partition{'' if len(partitions) == 1 else 's'}"
    listing.odd(f"It is a hybrid: a partition table of {count} stands in its system area.", 0)
    starts = {one.extents[0][0] for one in listing.files if one.extents}
    for one in partitions:
        said = f"{one.type}, {one.length} bytes from {one.offset}" + (f", called {one.label}" if one.label else "")
        listing.fields.append(
            Field(
                f"partition_{one.number}", said[:200], one.listed_at, 16, "What the table says of it", "UEFI 2.10, 5.2"
            )
        )
        covers = one.offset <= START < one.offset + one.length
        if covers or one.offset in starts or not 0 < one.offset < listing.view.size:
            continue
        made, missing = partition_file(listing.view, one)
        if missing:
            listing.damaged(f"Partition {one.number} lacks its last {missing} bytes.", one.listed_at)
        listing.add(made)


READER = Reader(
    name="iso",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    maybe=maybe,
    version=1,
    source="ECMA-119; Joliet; SUSP and RRIP 1.12; El Torito 1.0",
    depth="every tree (Rock Ridge, Joliet, enhanced, primary) and where they differ; boot images; partitions of hybrid "
    "images; folders that lead back, sizes past the end",
)
