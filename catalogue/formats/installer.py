"""Windows Installer packages: compound files whose streams are a database's tables, cabinets and other bytes.

Compound files: [MS-CFB]. How the tables' names and texts are kept has no published standard: it is from memory and is
checked in the tests against what msitools makes. The Property table: "Property Table" of the Windows Installer pages.
"""

from __future__ import annotations

import codecs
import struct
from dataclasses import dataclass, replace

from catalogue.formats import archive_items
from catalogue.formats.archive_items import Item, Unreadable, together
from catalogue.formats.compound_file import MAGIC, CompoundFile, Stream
from catalogue.formats.limits import MAX_MSI_TABLE, MAX_TEXT
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import efi_guid
from catalogue.formats.view import View
from catalogue.formats.zip_directory import unsafe_name
from catalogue.shapes.reading import Fault, Field, Reading, Span, VersionClaim

MSI, OTHER = "archive/msi", "archive/compound-file"
_CLASSES = {
    "000C1084-0000-0000-C000-000000000046": "Windows Installer package",
    "000C1086-0000-0000-C000-000000000046": "Windows Installer patch",
    "000C1082-0000-0000-C000-000000000046": "Windows Installer transform",
}
"""Class of the root of each (from memory)."""
_SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz._"
_TABLE = "\u4840"
_SUMMARY, _SIGNED = "\5SummaryInformation", ("\5DigitalSignature", "\5MsiDigitalSignatureEx")
_PROPERTIES = (
    ("ProductName", "product_name", "What it installs, as it says"),
    ("ProductVersion", "product_version", "Version of what it installs"),
    ("Manufacturer", "manufacturer", "Who made it, as it says"),
    ("ProductCode", "product_code", "GUID of this product"),
    ("UpgradeCode", "upgrade_code", "GUID that its versions share"),
)
_MOST_TABLES = 128
_LONG_REFERENCES = 0x8000


@dataclass(frozen=True, slots=True)
class Package:
    """An open package: its streams that are no tables, as items, and what is wrong with the whole."""

    file: CompoundFile
    items: tuple[Item, ...]
    streams: tuple[Stream, ...]
    tables: tuple[str, ...]
    signed: bool


def looks_like(view: View) -> Looks:
    """SURE for the first eight bytes of a compound file."""
    return Looks.SURE if view.at(0, len(MAGIC)) == MAGIC else Looks.NO


def stream_name(raw: str) -> tuple[str, bool]:
    """A stream's name as the installer means it, and whether it is a table of the database."""
    table = raw.startswith(_TABLE)
    name = []
    for sign in raw.removeprefix(_TABLE):
        code = ord(sign) - 0x3800
        if 0 <= code < 0x1000:
            name.append(_SIGNS[code & 63] + _SIGNS[code >> 6])
        elif 0x1000 <= code < 0x1040:
            name.append(_SIGNS[code & 63])
        else:
            name.append(sign)
    return "".join(name), table


def package(view: View) -> Package | None:
    """What the compound file that fills `view` holds; None where none begins. Raises the view's OSError only."""
    if looks_like(view) is Looks.NO:
        return None
    file = CompoundFile(view)
    items: list[Item] = []
    streams: list[Stream] = []
    tables: list[str] = []
    signed = False
    for one in file.streams:
        name, table = stream_name(one.path[-1])
        if len(one.path) == 1 and one.path[0] in _SIGNED:
            signed = True
        elif table and len(one.path) == 1:
            tables.append(name)
        elif one.path != (_SUMMARY,):
            fault = "has a size larger than the whole file" if one.size > view.size else ""
            text = "/".join((*(stream_name(part)[0] for part in one.path[:-1]), name))
            items.append(
                Item(text, one.size, one.size, one.listed_at, fault=fault, unsafe=unsafe_name(text), readable=not fault)
            )
            streams.append(one)
    return Package(file, together(items), tuple(streams), tuple(tables), signed)


def read(view: View) -> Reading | None:
    """The compound file that fills `view`; None where none begins."""
    found = package(view)
    if found is None:
        return None
    what = _CLASSES.get(efi_guid(found.file.clsid), "")
    at = 30 if view.size >= 32 else None
    fields = [
        Field("sector_size", found.file.sector, at, 2, "Bytes of a sector", "[MS-CFB] 2.2"),
        Field("class", efi_guid(found.file.clsid), None, 0, "Class of the root", "[MS-CFB] 2.6.1"),
    ]
    faults = [Fault("archive-damaged", found.file.fault, 0)] if found.file.fault else []
    notes: list[Fault] = []
    versions: tuple[VersionClaim, ...] = ()
    title = "Compound file (an older office document or the like)"
    if what:
        title = what
        fields.append(Field("tables", found.tables[:_MOST_TABLES], None, 0, "Tables of its database", ""))
        try:
            values = _property_table(found.file)
        except Unreadable as error:
            values = {}
            faults.append(Fault("archive-damaged", f"Its table of properties cannot be read: it {error}.", 0))
        source = "Windows Installer, Property Table"
        for key, name, meaning in _PROPERTIES:
            if values.get(key, "").strip():
                fields.append(Field(name, values[key][:MAX_TEXT], None, 0, meaning, source))
        if values.get("ProductVersion", "").strip():
            versions = (VersionClaim(values["ProductVersion"][:MAX_TEXT], "installer's property ProductVersion"),)
        label = " ".join(values.get(key, "") for key in ("ProductName", "ProductVersion")).strip()
        if label:
            title += f": {label[:100]}"
    if found.signed:
        notes.append(Fault("signature-not-checked", "It carries a signature, which is not checked here.", 0))
    made = archive_items.reading(
        "msi",
        MSI if what else OTHER,
        title,
        view.size,
        found.items,
        fields=fields,
        faults=faults,
        notes=notes,
        spans=(Span("header", 0, min(512, view.size)),),
    )
    return replace(made, versions=versions)


def _property_table(file: CompoundFile) -> dict[str, str]:
    """Names and values of the Property table. Raises Unreadable, and the view's OSError."""
    found = {}
    for one in file.streams:
        name, table = stream_name(one.path[-1])
        if table and len(one.path) == 1 and name in ("_StringPool", "_StringData", "Property"):
            found[name] = file.data(one, MAX_MSI_TABLE)
    if len(found) < 3:
        return {}
    texts, width = _texts(found["_StringPool"], found["_StringData"])
    raw = found["Property"]
    rows = len(raw) // (2 * width)
    numbers = [int.from_bytes(raw[at : at + width], "little") for at in range(0, 2 * width * rows, width)]
    return {texts.get(key, ""): texts.get(value, "") for key, value in zip(numbers[:rows], numbers[rows:], strict=True)}


def _texts(pool: bytes, data: bytes) -> tuple[dict[int, str], int]:
    """The database's texts by number, and how many bytes a number of a text has in its tables."""
    words = struct.unpack(f"<{len(pool) // 4 * 2}H", pool[: len(pool) // 4 * 4])
    if len(words) < 2:
        return {}, 2
    coding = _coding(words[0])
    texts: dict[int, str] = {}
    at, place, number = 0, 2, 1
    while place + 1 < len(words):
        length, uses = words[place], words[place + 1]
        place += 2
        if length == 0 and uses and place + 1 < len(words):  # longer than 64 KiB: the length goes on in the next entry
            length = uses << 16 | words[place]
            place += 2
        if length:
            texts[number] = data[at : at + min(length, MAX_TEXT)].decode(coding, "replace")
            at += length
        number += 1
    return texts, 3 if words[1] & _LONG_REFERENCES else 2


def _coding(page: int) -> str:
    name = {0: "latin-1", 65001: "utf-8"}.get(page, f"cp{page}")
    try:
        return codecs.lookup(name).name
    except LookupError:
        return "latin-1"


READER = Reader(
    first=(MAGIC[:4],),
    name="msi",
    kinds=(MSI, OTHER),
    looks_like=looks_like,
    read=read,
    version=1,
    source="[MS-CFB]; the installer's tables from memory",
    depth="streams of compound files; of an installer its tables' names, product, version and codes; cabinets opened "
    "further (their files bear the database's keys as names)",
)
