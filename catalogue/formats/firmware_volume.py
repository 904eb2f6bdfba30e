"""UEFI firmware volumes: one, several end to end, or some inside the image of a whole flash chip.

UEFI Platform Initialization Specification (PI), volume 3, 3.2.1 (firmware volume header, extended header).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from catalogue.formats import ffs_file, inner
from catalogue.formats.ffs_file import read_files
from catalogue.formats.limits import MAX_STRINGS, MAX_VOLUME_BYTES, MAX_VOLUME_FAULTS, MAX_VOLUME_TRIES, MAX_VOLUMES
from catalogue.formats.overlay import is_padding
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.formats.volume_header import LEAST, SIGNATURE, SIGNATURE_AT, SYSTEMS, header_at, is_sound
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "PI Specification, volume 3, 3.2.1"
_BLOCK, _LEAST_IMAGE = 0x1_0000, 0x2_0000
"""The image of a flash chip is whole erase blocks of 64 KiB, two at least (common practice, no published source)."""
_CHUNK = 1 << 20


def looks_like(view: View) -> Looks:
    """SURE of a sound header; MAYBE of a damaged one with a known file system, and of what could be a chip's image."""
    head = view.at(0, LEAST)
    if head[SIGNATURE_AT : SIGNATURE_AT + 4] == SIGNATURE:
        if is_sound(view, 0):
            return Looks.SURE
        return Looks.MAYBE if head[16:32] in SYSTEMS else Looks.NO
    return Looks.MAYBE if _may_be_chip(view.size) else Looks.NO


def maybe(data: bytes) -> bool:
    """See Reader.maybe."""
    return data[0x28:0x2C] == SIGNATURE or (not len(data) & (_BLOCK - 1) and _may_be_chip(len(data)))


def _may_be_chip(size: int) -> bool:
    return size % _BLOCK == 0 and _LEAST_IMAGE <= size <= MAX_VOLUME_BYTES


def read(view: View) -> Reading | None:
    """Every volume in `view`, each a part; None where there is none."""
    if looks_like(view) is Looks.NO:
        return None
    with inner.reading(view):
        volumes = tuple(read_volume(view, at) for at in _starts(view))
    if not volumes:
        return None
    faults = tuple(chain.from_iterable(one.faults for one in volumes))[:MAX_VOLUME_FAULTS]
    notes = tuple(chain.from_iterable(one.notes for one in volumes))[: MAX_VOLUME_FAULTS - 1]
    count = len(volumes)
    if count >= MAX_VOLUMES:
        notes += (Fault("volume-unread", f"Only its first {MAX_VOLUMES} volumes are read."),)
    elif view.size > MAX_VOLUME_BYTES:
        notes += (Fault("volume-unread", f"Volumes are looked for in its first {MAX_VOLUME_BYTES} bytes only."),)
    alone = count == 1 and volumes[0].offset == 0
    title = volumes[0].title if alone else f"Firmware image, {count} volume{'s' if count > 1 else ''}"
    return Reading(
        format=READER.name,
        kind="firmware-volume",
        title=title,
        length=view.size,
        fields=(Field("volumes", count, None, 0, "Firmware volumes found", SOURCE),),
        parts=volumes,
        ids=tuple(dict.fromkeys(chain.from_iterable(one.ids for one in volumes))),
        versions=tuple(chain.from_iterable(one.versions for one in volumes))[:MAX_STRINGS],
        faults=faults,
        notes=notes,
        spans=_spans(view, volumes),
    )


def read_volume(view: View, at: int, depth: int = 0) -> Reading:
    """The volume whose header stands at `at`, its offsets counted in `view`; `depth` volumes lie round it."""
    header = header_at(view, at)
    length = min(header.length, view.size - at)
    faults = list(header.faults)
    if header.length > length:
        faults.append(Fault("cut-short", "The file ends before the firmware volume does.", at + 32))
    fields = list(header.fields)
    parts: tuple[Reading, ...] = ()
    spans: list[Span] = []
    notes: list[Fault] = []
    if header.has_files:
        files = read_files(view, at, at + header.files_at, at + length, header.erased, header.large, depth, read_volume)
        parts = files.parts
        spans = files.spans
        faults += files.faults
        notes += files.notes
        fields.append(Field("files", files.count, None, 0, "Files in it, padding left out", SOURCE))
        title = f"Firmware volume, {header.system}, {files.count} files"
    else:
        title = f"Firmware volume, {header.system}"
    return Reading(
        format="firmware-volume",
        kind="firmware-volume",
        title=title,
        offset=at,
        length=length,
        fields=tuple(fields),
        parts=parts,
        ids=tuple(dict.fromkeys(chain.from_iterable(one.ids for one in parts))),
        versions=tuple(chain.from_iterable(one.versions for one in parts))[:MAX_STRINGS],
        faults=tuple(faults)[:MAX_VOLUME_FAULTS],
        notes=tuple(notes)[:MAX_VOLUME_FAULTS],
        spans=(Span("volume header", at, min(header.files_at, length)), *spans),
    )


def unpacked(view: View, file: Reading, part: int) -> bytes | None:
    """See ffs_file.unpacked."""
    return ffs_file.unpacked(view, file, part, read_volume)


def _starts(view: View) -> Iterator[int]:
    """Where volumes begin: at the start, and wherever a sound header stands on an 8-byte step behind the last one."""
    at = 0
    if view.at(SIGNATURE_AT, 4) == SIGNATURE:
        yield 0
        at = max(LEAST, min(header_at(view, 0).length, view.size))
    tries = found = 0
    stop = min(view.size, MAX_VOLUME_BYTES)
    while at < stop and found < MAX_VOLUMES - 1:
        chunk = view.at(at, min(_CHUNK, stop - at) + SIGNATURE_AT + 4)
        here = chunk.find(SIGNATURE, SIGNATURE_AT)
        if here < 0:
            at += _CHUNK
            continue
        start = at + here - SIGNATURE_AT
        tries += 1
        if tries > MAX_VOLUME_TRIES:
            return
        if start % 8 == 0 and is_sound(view, start):
            found += 1
            yield start
            at = start + max(LEAST, header_at(view, start).length)
        else:
            at = start + 1


def _spans(view: View, volumes: tuple[Reading, ...]) -> tuple[Span, ...]:
    spans: list[Span] = []
    at = 0
    ends = [*((one.offset, one.offset + one.length, f"volume {index}") for index, one in enumerate(volumes))]
    for start, stop, name in (*ends, (view.size, view.size, "")):
        if start > at:
            what = "padding" if is_padding(view, at, start) else "not in any volume"
            spans.append(Span(what, at, start - at))
        if name:
            spans.append(Span(name, start, stop - start))
        at = max(at, stop)
    return tuple(spans)


READER = Reader(
    name="firmware-volume",
    kinds=("firmware-volume",),
    looks_like=looks_like,
    read=read,
    version=3,
    source="PI Specification 1, volume 3; UEFI Specification, 19; LZMA as edk2 packs it",
    depth="every volume of a chip's image: header and sum, files of FFS1 to FFS3 with both sums, sections (PE, TE, "
    "version, name, raw, volumes in volumes), UEFI- and LZMA-compressed ones unpacked",
    maybe=maybe,
)
