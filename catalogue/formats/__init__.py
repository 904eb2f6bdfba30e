"""Bytes in, a Reading out: one file a published format. No paths, names, database or clock.

`READERS` is the one table: a format is its file and its row here, and the order is the precedence.
"""

from __future__ import annotations

from catalogue.formats import (
    ar_archive,
    bzip2_stream,
    cabinet,
    capsule,
    checksum_list,
    cpio,
    device_tree,
    dfu_suffix,
    disk_image,
    dos_program,
    ed25519_signature,
    elf,
    fat_image,
    fcode,
    firmware_volume,
    gzip_stream,
    installer,
    intel_hex,
    iso_image,
    opaque,
    openpgp_signature,
    option_rom,
    pe,
    pldm_package,
    rar,
    rpm_package,
    s_record,
    seven_zip,
    signature_list,
    tar_archive,
    text_note,
    udf_image,
    uf2,
    vpd,
    xz_stream,
    zip_archive,
    zstd_stream,
)
from catalogue.formats.reader import TEXT_BYTES, Looks, Reader
from catalogue.formats.text_decoding import MARK_BYTES, is_text
from catalogue.formats.view import BytesView, View
from catalogue.shapes.reading import Reading

READERS: tuple[Reader, ...] = (
    udf_image.READER,
    iso_image.READER,
    dfu_suffix.READER,
    option_rom.READER,
    pe.READER,
    dos_program.READER,
    elf.READER,
    pldm_package.READER,
    capsule.READER,
    device_tree.READER,
    uf2.READER,
    zip_archive.READER,
    gzip_stream.READER,
    xz_stream.READER,
    bzip2_stream.READER,
    zstd_stream.READER,
    tar_archive.READER,
    seven_zip.READER,
    cabinet.READER,
    installer.READER,
    ar_archive.READER,
    rpm_package.READER,
    cpio.READER,
    rar.READER,
    fat_image.READER,
    disk_image.READER,
    firmware_volume.READER,
    vpd.READER,
    signature_list.READER,
    fcode.READER,
    intel_hex.READER,
    s_record.READER,
    openpgp_signature.READER,
    ed25519_signature.READER,
    checksum_list.READER,
    text_note.READER,
    opaque.READER,
)
"""Every reader, the first that is sure answers; the last row takes whatever no other knows."""


_FIRST = tuple(first for row in READERS for first in row.first)
_FIRST_OR_MARK = (*_FIRST, *MARK_BYTES)
_FIRST_BYTE = frozenset(one[:1] for one in _FIRST_OR_MARK)
_KNOWING = tuple(row for row in READERS if row is not opaque.READER)
_UNFIXED = tuple(row for row in _KNOWING if not row.first)
_BINARY = tuple(row for row in _UNFIXED if not row.text)


def read(view: View) -> Reading:
    """What the bytes of `view` are: the first reader that is SURE and answers, else the first MAYBE that does.

    Always answers; what no reader knows is `opaque`. Raises nothing but the view's own OSError.
    """
    return known(view) or opaque.read(view)


def known(view: View) -> Reading | None:
    """As `read`, but None for what no reader knows. Raises nothing but the view's own OSError."""
    perhaps: list[Reader] = []
    head = view.at(0, TEXT_BYTES)
    for row in _rows(head):
        if row.first and not head.startswith(row.first):
            continue
        looks = row.looks_like(view)
        if looks is Looks.MAYBE:
            perhaps.append(row)
        elif looks is Looks.SURE:
            answer = row.read(view)
            if answer is not None:
                return answer
    for row in perhaps:
        answer = row.read(view)
        if answer is not None:
            return answer
    return None


def knows_nothing(data: bytes) -> bool:
    """Whether no reader could know these bytes, by a quick look at the whole of them (False may be wrong).

    What the text readers look at first is looked at here without them: most small files are told apart so.
    """
    if data[:1] in _FIRST_BYTE and data.startswith(_FIRST_OR_MARK):
        return False
    zero = data.find(b"\0", 0, checksum_list.HEAD_BYTES)
    if zero < 0 or (zero >= TEXT_BYTES and is_text(data[:TEXT_BYTES])):
        return False
    for row in _BINARY:
        if row.maybe(data) if row.maybe else row.looks_like(BytesView(data)) is not Looks.NO:
            return False
    return True


def _rows(head: bytes) -> tuple[Reader, ...]:
    """The readers that need to look at a piece that begins so (a folder of small files is read mostly here)."""
    if head[:1] in _FIRST_BYTE and head.startswith(_FIRST):
        return _KNOWING
    return _BINARY if b"\0" in head and not head.startswith(MARK_BYTES) else _UNFIXED
