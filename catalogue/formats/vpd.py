"""Vital product data as a card keeps it: identifier string, read-only and read-write keywords, their sum.

PCI Local Bus Specification 2.2, appendix I. The two letters of a keyword are the field's name.

Nothing but lengths holds this format together, so a reading needs more: tags and keywords that fill their lengths to
the end tag, and either the checksum keyword or an identifier with a part or serial number.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from catalogue.formats.limits import MAX_DEVICES, MAX_FIELDS, MAX_TEXT, MAX_VPD_BYTES
from catalogue.formats.overlay import is_padding
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "PCI Local Bus Specification 2.2, appendix I"
_IDENTIFIER, _READ_ONLY, _READ_WRITE, _END = 0x82, 0x90, 0x91, 0x78
_TAGS = {_IDENTIFIER: "identifier", _READ_ONLY: "read-only block", _READ_WRITE: "read-write block"}
_MEANINGS = {
    "PN": "Part number",
    "FG": "Fabric geography",
    "LC": "Location",
    "MN": "Manufacture ID",
    "PG": "PCI geography",
    "SN": "Serial number",
    "EC": "Engineering change level",
    "CP": "Extended capability",
    "RV": "Makes all bytes up to it sum to 0",
    "RW": "Bytes free for the system",
    "YA": "Asset tag of the system's own",
}
_MOST_KEPT = MAX_FIELDS - 16


@dataclass(slots=True)
class _Product:
    """What was read. `proof` is where the bytes under the sum end, None without the checksum keyword."""

    fields: list[Field] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    values: dict[str, str] = field(default_factory=dict)
    proof: int | None = None
    end: int = 0


def looks_like(view: View) -> Looks:
    """MAYBE of a first tag whose length leads to another tag."""
    if not 4 < view.size <= MAX_VPD_BYTES:
        return Looks.NO
    head = view.at(0, 3)
    if head[0] not in _TAGS:
        return Looks.NO
    after = view.at(3 + int.from_bytes(head[1:], "little"), 1)
    return Looks.MAYBE if after and (after[0] in _TAGS or after[0] == _END) else Looks.NO


def read(view: View) -> Reading | None:
    """The product data that `view` begins with; None where its structure does not hold to the end tag."""
    if looks_like(view) is Looks.NO:
        return None
    data = view.at(0, MAX_VPD_BYTES)
    found = _walk(data)
    if found is None:
        return None
    named = found.values.get("identifier", "").strip() and found.values.keys() & {"PN", "SN"}
    if found.proof is None and not named:
        return None
    faults: list[Fault] = []
    if found.proof is None:
        faults.append(
            Fault("vpd-damaged", "The keyword RV, and with it the sum over the read-only part, is missing.", 0)
        )
    else:
        total = sum(data[: found.proof + 1]) & 0xFF
        meaning = "Whether all bytes up to the checksum sum to 0"
        found.fields.append(Field("checksum_ok", total == 0, None, 0, meaning, SOURCE))
        if total:
            text = f"The bytes up to the checksum sum to {total:02X}h, not to 0."
            faults.append(Fault("vpd-damaged", text, found.proof))
    notes: list[Fault] = []
    if found.end < view.size:
        padding = is_padding(view, found.end, view.size)
        name = "padding" if padding else "behind the end tag"
        found.spans.append(Span(name, found.end, view.size - found.end))
        if not padding:
            notes.append(Fault("data-after-end", "Bytes lie behind the end tag.", found.end))
    title = "Vital product data"
    title += f": {found.values['identifier'][:60]}" if found.values.get("identifier") else ""
    title += f", part {found.values['PN'][:30]}" if found.values.get("PN") else ""
    return Reading(
        format=READER.name,
        kind="vpd",
        title=title,
        length=view.size,
        fields=tuple(found.fields),
        faults=tuple(faults),
        notes=tuple(notes),
        spans=tuple(found.spans),
    )


def _walk(data: bytes) -> _Product | None:
    """Every tag up to the end tag; None where a length or a keyword is impossible."""
    found = _Product()
    at = tags = 0
    while at < len(data) and tags < MAX_DEVICES:
        tag = data[at]
        if tag == _END:
            found.end = at + 1
            found.spans.append(Span("end tag", at, 1))
            return found if tags else None
        size = int.from_bytes(data[at + 1 : at + 3], "little")
        stop = at + 3 + size
        if tag not in _TAGS or stop > len(data) - 1:
            return None
        found.spans.append(Span(_TAGS[tag], at, 3 + size))
        if tag == _IDENTIFIER:
            raw = data[at + 3 : stop]
            text = raw.rstrip(b"\0 ").decode("latin-1")
            if any(not sign.isprintable() for sign in text):
                return None
            _add(found, "identifier", text[:MAX_TEXT], at + 3, size, "Name of the card")
        elif not _keywords(found, data, at + 3, stop, tag):
            return None
        tags += 1
        at = stop
    return None


def _keywords(found: _Product, data: bytes, at: int, stop: int, tag: int) -> bool:
    """The keywords of a block; whether they fill it."""
    while at < stop:
        if at + 3 > stop:
            return False
        raw, size = data[at : at + 2], data[at + 2]
        start = at + 3
        if not (raw.isalnum() and raw.isascii()) or start + size > stop:
            return False
        word = raw.decode("ascii")
        value = data[start : start + size]
        if word == "RV" and tag == _READ_ONLY:
            if not size:
                return False
            found.proof = start
            _add(found, "RV", f"{value[0]:02X}", start, 1, _MEANINGS["RV"])
        elif word == "RW":
            _add(found, "RW", "", start, size, _MEANINGS["RW"])
        else:
            _add(found, word, _text(value), start, size, _meaning(word, tag))
        at = start + size
    return at == stop


def _meaning(word: str, tag: int) -> str:
    known = _MEANINGS.get(word)
    if known is None:
        known = {"V": "The maker's own", "Y": "The system's own"}.get(word[0], "Keyword of no published meaning")
    return f"{known} (read-write)" if tag == _READ_WRITE else known


def _text(value: bytes) -> str:
    """Printable text, closing blanks and zeros left out; other bytes as hex."""
    plain = value.rstrip(b"\0 ")
    return plain.decode("ascii") if all(0x20 <= byte < 0x7F for byte in plain) else value.hex()[:MAX_TEXT]


def _add(found: _Product, name: str, value: str, at: int, size: int, meaning: str) -> None:
    found.names[name] = found.names.get(name, 0) + 1
    found.values.setdefault(name, value)
    if found.names[name] > 1:
        name = f"{name}_{found.names[name]}"
    if len(found.fields) < _MOST_KEPT:
        shown: int | str = size if name.startswith("RW") else value
        found.fields.append(Field(name, shown, at, size, meaning, SOURCE))


READER = Reader(
    name="vpd",
    first=tuple(bytes([tag]) for tag in _TAGS),
    kinds=("vpd",),
    looks_like=looks_like,
    read=read,
    version=2,
    source="PCI Local Bus Specification 2.2, appendix I",
    depth="identifier string, every keyword of both blocks, the sum, what lies behind the end tag",
)
