"""The `$PnP` expansion headers of a legacy option ROM: which boot devices it brings.

Plug and Play BIOS Specification 1.0A, section 3.1 to 3.3; BIOS Boot Specification 1.01.
"""

from __future__ import annotations

import re
from dataclasses import replace

from catalogue.formats.rows import Kind, Row, number, read_rows, text_at
from catalogue.formats.sums import byte_sum
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, VersionClaim

SOURCE = "Plug and Play BIOS 1.0A, 3.2"
SIGNATURE = b"$PnP"
MAX_HEADERS = 16
"""Headers of one chain that are read; a chain may be a circle."""
LEAST = 0x20
UNIT = 16

_ROWS = (
    Row("revision", 0x04, 1, Kind.LE, SOURCE, "Structure revision"),
    Row("header_length", 0x05, 1, Kind.LE, SOURCE, "Bytes of this header", UNIT),
    Row("next_header", 0x06, 2, Kind.LE, SOURCE, "Next header, from the image's start; 0 for none"),
    Row("checksum", 0x09, 1, Kind.LE, SOURCE, "Makes the header's bytes sum to 0"),
    Row("device_identifier", 0x0A, 4, Kind.BE, SOURCE, "Plug and Play device ID"),
    Row("manufacturer_pointer", 0x0E, 2, Kind.LE, SOURCE, "Manufacturer string, from the image's start"),
    Row("product_pointer", 0x10, 2, Kind.LE, SOURCE, "Product name string, from the image's start"),
    Row("device_type", 0x12, 3, Kind.BE, SOURCE, "Base type, sub-type, interface type"),
    Row("indicators", 0x15, 1, Kind.LE, SOURCE, "What the device can start or show"),
    Row("boot_connection_vector", 0x16, 2, Kind.LE, SOURCE, "Boot connection vector; 0 for none"),
    Row("disconnect_vector", 0x18, 2, Kind.LE, SOURCE, "Disconnect vector; 0 for none"),
    Row("bootstrap_entry_vector", 0x1A, 2, Kind.LE, SOURCE, "Bootstrap entry vector; 0 for none"),
    Row("static_resources", 0x1E, 2, Kind.LE, SOURCE, "Static resource information vector; 0 for none"),
)
_DOTTED = re.compile(r"(?<![\w.])[vV]?(\d+(?:\.\d+)+[0-9A-Za-z-]{0,12})(?![\w.]*\w)")


def read_chain(view: View, start: int, end: int, pointer: int) -> tuple[Reading, ...]:
    """The headers of the image in [start, end), the first at `pointer` from its start. A circle ends the chain.

    Where the first pointer leads to no header the image brings none; a later one that does so is a note.
    """
    headers: list[Reading] = []
    seen: set[int] = set()
    while pointer and pointer not in seen and len(headers) < MAX_HEADERS:
        seen.add(pointer)
        at = start + pointer
        if at + 4 > end or view.at(at, 4) != SIGNATURE:
            _note_last(headers, f"The chain of $PnP headers leads to {pointer:04X}h, where there is none.")
            return tuple(headers)
        headers.append(_header(view, start, at, len(headers) + 1))
        pointer = number({one.name: one for one in headers[-1].fields}, "next_header")
    if pointer:
        _note_last(headers, "The chain of $PnP headers does not end.")
    return tuple(headers)


def _header(view: View, start: int, at: int, count: int) -> Reading:
    found = read_rows(_ROWS, view, at)
    length = number(found, "header_length")
    body = view.at(at, length)
    sum_ok = length >= LEAST and len(body) == length and byte_sum(body) & 0xFF == 0
    notes: tuple[Fault, ...] = ()
    if not sum_ok:
        notes = (Fault("rom-odd", "The bytes of this $PnP header do not sum to 0.", min(at + 9, view.size)),)
    fields = [*found.values(), Field("checksum_ok", sum_ok, None, 0, "Whether the header's bytes sum to 0", SOURCE)]
    maker = _text(view, start, number(found, "manufacturer_pointer"), "manufacturer", fields)
    product = _text(view, start, number(found, "product_pointer"), "product_name", fields)
    title = f"$PnP header {count}" + (f": {' '.join(filter(None, (maker, product)))}" if maker or product else "")
    versions: tuple[VersionClaim, ...] = ()
    if match := _DOTTED.search(product):
        offset = start + number(found, "product_pointer") + match.start(1)
        versions = (VersionClaim(match[1], "$PnP product name", offset),)
    return Reading("pnp", "pnp-header", title, at, length, tuple(fields), versions=versions, notes=notes)


def _text(view: View, start: int, where: int, name: str, fields: list[Field]) -> str:
    """The string `where` bytes from the image's start, also added to `fields`; "" where there is none."""
    text = text_at(view, start + where) if where else ""
    if text:
        fields.append(
            Field(name, text, start + where, len(text), f"The {name.replace('_', ' ')} the header points to", SOURCE)
        )
    return text


def _note_last(headers: list[Reading], text: str) -> None:
    if headers:
        last = headers[-1]
        headers[-1] = replace(last, notes=(*last.notes, Fault("rom-odd", text, last.offset + 6)))
