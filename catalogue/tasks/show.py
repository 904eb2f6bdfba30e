"""Show one piece, read in full: by its path, indexed or not, by its place in an archive, or by its hash."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from io import FileIO
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.families import pci_names
from catalogue.formats import efi_image, layers
from catalogue.formats.view import BytesView, FileView, View
from catalogue.intake import fetch, whole
from catalogue.intake.reading import read_view
from catalogue.shapes.piece import INTO, Contradiction, PieceDetail, PieceInfo, Place, SignatureCheck
from catalogue.shapes.reading import CardId, Reading
from catalogue.store import Store, derived, evidence, pieces
from catalogue.tasks import hashes
from catalogue.tasks.context import Context

MOST_BYTES = 4 << 20
"""Bytes given by one call of `bytes_of`."""
CHUNK = 1 << 20


def run(context: Context, what: str) -> PieceDetail:
    """The piece meant by `what`, read in full.

    Raises BadCall where it names nothing, a folder, or several pieces; NotWorkable where it cannot be read.
    """
    path = _path(what)
    with Store.open(context.catalogue) as store:
        return _by_path(store, path) if path is not None else _by_hash(store, _sha256(store, what))


def bytes_of(context: Context, what: str, offset: int, length: int) -> bytes:
    """The bytes that exist of `length` from `offset` in the piece meant by `what`, MOST_BYTES at most; see `run`."""
    with viewed(context, what) as view:
        return view.at(offset, min(length, MOST_BYTES))


def unpacked(context: Context, what: str, image: Reading) -> bytes | None:
    """The unpacked EFI driver of `image`, one part of the reading of the piece meant by `what`: 16 MiB at most.

    They are the bytes that offsets in the image's part with `inside="unpacked"` count in. None where the image has no
    such part, or the piece has changed since. Raises as `run` does.
    """
    with viewed(context, what) as view:
        return efi_image.unpacked(view, image)


def part_bytes(context: Context, what: str, whole: Reading, path: Sequence[int]) -> bytes | None:
    """The unpacked bytes that offsets in a part of `whole`, the reading of the piece meant by `what`, count in.

    `path`: positions among `parts`, from the outside in. 32 MiB at most (formats/limits.py). None where the part does
    not lie unpacked, or the piece has changed since. Raises as `run` does.
    """
    with viewed(context, what) as view:
        found = layers.layer_of(view, whole, path)
        return None if found is None or found is view else found.at(0, found.size)


def member(context: Context, sha256: str, name: str) -> str:
    """The SHA-256 of a member of the archive with that hash, by its name in the archive's directory.

    Raises BadCall where the catalogue does not have it: the archive was never indexed, or the member is locked, damaged
    or beyond the bounds.
    """
    with Store.open(context.catalogue) as store:
        facts = evidence.facts(store, [sha256]).get(sha256)
        for place in facts.places if facts is not None else ():
            found = store.piece_at(os.fsencode(place.path), (*place.inside, name))
            if found is not None:
                return found
    if facts is None:
        raise BadCall("The archive is not in the catalogue, so its members are not either. Index its folder first.")
    raise BadCall("This member is not in the catalogue: it was not unpacked, or the archive has changed since.")


@contextmanager
def viewed(context: Context, what: str) -> Iterator[View]:
    """The bytes of the piece meant by `what`."""
    path = _path(what)
    if path is not None:
        with _opened(path) as file:
            yield FileView(file.fileno(), os.fstat(file.fileno()).st_size)
        return
    with Store.open(context.catalogue) as store:
        sha256 = _sha256(store, what)
        info = store.piece_infos([sha256])[sha256]
        if info.size <= fetch.MOST:
            yield BytesView(fetch.piece_bytes(store, sha256))
            return
        with fetch.open_file(store, sha256) as fd:
            yield FileView(fd, info.size)


def _path(what: str) -> Path | None:
    """The file meant; None where `what` is not the path of one. Raises BadCall for a folder and for special files."""
    if not what.strip():
        raise BadCall("Nothing is named: give a file, or a hash or its beginning.")
    try:
        path = Path(what)
        mode = path.stat().st_mode
    except (OSError, ValueError):
        return None
    if stat.S_ISDIR(mode):
        if hashes.HEX.fullmatch(what.lower()):
            return None
        raise BadCall(f"{what} is a folder. Show takes one file, or a hash; `kitproof index` takes folders.")
    if not stat.S_ISREG(mode):
        raise BadCall(f"{what} is neither a file nor a folder; devices and pipes are not read.")
    return path


def _sha256(store: Store, what: str) -> str:
    """The piece meant by a hash, or by a place as it is printed."""
    if hashes.HEX.fullmatch(what.lower()):
        return hashes.whole_hash(store, what)
    outer, *inside = what.split(INTO)
    if inside:
        sha256 = store.piece_at(os.fsencode(os.path.abspath(outer)), tuple(inside))  # noqa: PTH100
        if sha256 is not None:
            return sha256
        raise BadCall(f"{what} is not in the catalogue. Index {outer} first.")
    raise BadCall(f"There is no file {what}, and it is no SHA-256 or beginning of one (4 to 64 hex digits).")


def _opened(path: Path) -> FileIO:
    try:
        return path.open("rb", buffering=0)
    except OSError as error:
        raise NotWorkable(f"{path} cannot be read: {error.strerror}.") from error


def _by_path(store: Store, path: Path) -> PieceDetail:
    try:
        with _opened(path) as file:
            size = os.fstat(file.fileno()).st_size
            hashed = hashlib.sha256()
            read = 0
            while chunk := file.read(CHUNK):
                hashed.update(chunk)
                read += len(chunk)
            if read != size:
                raise NotWorkable(f"{path} changes while it is read. Try again when whatever writes it is done.")
            reading, _depth = read_view(FileView(file.fileno(), size), str(path), whole=True)
    except OSError as error:
        raise NotWorkable(f"{path} cannot be read: {error.strerror}.") from error
    here = Place(os.path.abspath(path))  # noqa: PTH100
    sha256 = hashed.hexdigest()
    known = evidence.facts(store, [sha256]).get(sha256)
    names = [derived.last_name(place) for place in (here, *(known.places if known else ()))]
    reading = derived.as_named(reading, derived.shown_kind(reading.format, reading.kind, size, names))
    info = _info(sha256, size, reading, (here,))
    if known is None:
        return _detail(info, reading)
    places = known.places if here in known.places else (here, *known.places)
    return _detail(replace(info, places=places, vouch=known.vouches), reading, known.contradictions, known.signatures)


def _by_hash(store: Store, sha256: str) -> PieceDetail:
    reading = whole.reading_of(store, sha256)
    known = evidence.facts(store, [sha256])[sha256]
    info = _info(sha256, known.info.size, reading, known.places)
    faults = tuple(dict.fromkeys((*info.faults, *known.member_faults)))
    return _detail(replace(info, vouch=known.vouches, faults=faults), reading, known.contradictions, known.signatures)


def _info(sha256: str, size: int, reading: Reading, places: tuple[Place, ...]) -> PieceInfo:
    return PieceInfo(
        sha256=sha256,
        size=size,
        kind=reading.kind,
        title=reading.title,
        places=places,
        ids=pieces.ids_in(reading),
        versions=derived.versions_in(reading),
        faults=pieces.faults_in(reading),
        dates=derived.dates_in(reading),
    )


def _detail(
    info: PieceInfo,
    reading: Reading,
    contradicted: tuple[Contradiction, ...] = (),
    signatures: tuple[SignatureCheck, ...] = (),
) -> PieceDetail:
    return PieceDetail(info, reading, contradicted, signatures, _names(info.ids))


def _names(ids: tuple[CardId, ...]) -> dict[str, str]:
    """Names for vendors and devices, where a list of PCI IDs has them."""
    pairs = {(one.vendor, device) for one in ids for device in (one.device, *one.devices)}
    return dict(pci_names.names(sorted(pairs))) if pairs else {}
