"""Files with a DFU suffix: firmware, and 16 bytes behind it that say for which USB device it is.

USB Device Firmware Upgrade Specification 1.1, appendix B (file suffix); the CRC is that of IEEE 802.3 without its last
inversion. The IDs are USB's, not PCI's.
"""

from __future__ import annotations

import zlib

from catalogue.formats import inner
from catalogue.formats.limits import MAX_DFU_BYTES
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "USB DFU 1.1, appendix B"
SUFFIX = 16
_SIGNATURE = b"UFD"
_ROWS = (
    Row("device_release", 0, 2, Kind.LE, SOURCE, "Release of the device in BCD; FFFFh for any"),
    Row("usb_product", 2, 2, Kind.LE, SOURCE, "USB product; FFFFh for any"),
    Row("usb_vendor", 4, 2, Kind.LE, SOURCE, "USB vendor; FFFFh for any"),
    Row("dfu_release", 6, 2, Kind.LE, SOURCE, "Release of the specification in BCD"),
    Row("signature", 8, 3, Kind.TEXT, SOURCE, "UFD: DFU, backwards"),
    Row("suffix_length", 11, 1, Kind.LE, SOURCE, "Bytes of the suffix"),
    Row("crc", 12, 4, Kind.LE, SOURCE, "CRC-32 over all bytes before it"),
)
_RELEASES = (0x0100, 0x0101, 0x0110, 0x011A)
"""DFU 1.0 and 1.1; 011Ah is a chip maker's extension in wide use (from memory)."""
_ANY = 0xFFFF
_CHUNK = 1 << 20


def looks_like(view: View) -> Looks:
    """SURE of a suffix with its letters, length and release."""
    return Looks.SURE if _is_suffix(view.at(view.size - SUFFIX, SUFFIX), view.size) else Looks.NO


def maybe(data: bytes) -> bool:
    """See Reader.maybe."""
    return data[-8:-5] == _SIGNATURE


def _is_suffix(tail: bytes, size: int) -> bool:
    return (
        tail[8:11] == _SIGNATURE
        and len(tail) == SUFFIX
        and SUFFIX <= tail[11] <= size
        and int.from_bytes(tail[6:8], "little") in _RELEASES
    )


def read(view: View) -> Reading | None:
    """The suffix, and what the firmware before it is; None where there is no suffix."""
    if looks_like(view) is Looks.NO:
        return None
    at = view.size - SUFFIX
    found = read_rows(_ROWS, view, at)
    start = view.size - number(found, "suffix_length")
    fields = list(found.values())
    faults: list[Fault] = []
    notes: list[Fault] = []
    if view.size <= MAX_DFU_BYTES:
        have = _crc(view)
        fields.append(Field("crc_ok", have == number(found, "crc"), None, 0, "Whether it is that CRC", SOURCE))
        if have != number(found, "crc"):
            text = f"The CRC is {have:08X}h; the suffix says {number(found, 'crc'):08X}h."
            faults.append(Fault("dfu-damaged", text, at + 12))
    else:
        notes.append(Fault("dfu-unread", "The file is too long for its CRC to be recomputed.", at + 12))
    with inner.reading(view):
        inside = inner.known_at(view, 0, start)
    parts = (inside,) if inside is not None else ()
    vendor, product = number(found, "usb_vendor"), number(found, "usb_product")
    device = "any device" if vendor == _ANY else f"USB {vendor:04X}:" + ("any" if product == _ANY else f"{product:04X}")
    title = f"Firmware with a DFU suffix for {device}"
    return Reading(
        format=READER.name,
        kind="dfu-file",
        title=f"{title}: {inside.title}" if inside is not None else title,
        length=view.size,
        fields=tuple(fields),
        parts=parts,
        ids=inside.ids if inside is not None else (),
        versions=inside.versions if inside is not None else (),
        faults=(*faults, *(inside.faults if inside is not None else ())),
        notes=(*notes, *(inside.notes if inside is not None else ())),
        spans=(Span("firmware", 0, start), Span("DFU suffix", start, view.size - start)),
    )


def _crc(view: View) -> int:
    value = 0
    end = view.size - 4
    for at in range(0, end, _CHUNK):
        value = zlib.crc32(view.at(at, min(_CHUNK, end - at)), value)
    return value ^ 0xFFFF_FFFF


READER = Reader(
    name="dfu-file",
    kinds=("dfu-file",),
    looks_like=looks_like,
    read=read,
    version=1,
    source="USB Device Firmware Upgrade Specification 1.1, appendix B",
    depth="every field of the suffix, its CRC, the firmware before it read by itself",
    maybe=maybe,
)
