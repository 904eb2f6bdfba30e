"""A saved EFI System Resource Table: which firmware a machine updates by capsule, and how its last update went.

UEFI Specification, section 23.4 (EFI_SYSTEM_RESOURCE_TABLE): count, most, version 1, then entries of 40 bytes. Linux
shows the same as files under `esrt/entries`, one value a file (kernel documentation, sysfs-firmware-efi-esrt); what
`grep . entries/*/*` prints of them is read too.
"""

from __future__ import annotations

import re

from catalogue.formats.rows import efi_guid
from catalogue.shapes.host import Resource

HEADER, ENTRY, MOST = 16, 40, 256
VERSION = 1
_LINE = re.compile(r"(?:.*/)?(entry\d{1,4})/([a-z_]{1,40})[:=\s]\s*(\S{1,64})\s*")
_GUID = re.compile(r"[0-9A-Fa-f]{8}(?:-[0-9A-Fa-f]{4}){3}-[0-9A-Fa-f]{12}")
_NUMBERS = ("fw_version", "lowest_supported_fw_version", "last_attempt_version", "last_attempt_status")


def resources_of(data: bytes, file: str) -> tuple[tuple[Resource, ...], str]:
    """The entries of a saved table, binary or as text, and what is wrong with it ("" where nothing is)."""
    if data[8:16] == VERSION.to_bytes(8, "little"):
        return _binary(data, file)
    try:
        text = data.decode("ascii")
    except UnicodeDecodeError:
        return (), "it is neither the binary table nor the text of its entries"
    return _text(text, file)


def _binary(data: bytes, file: str) -> tuple[tuple[Resource, ...], str]:
    count = int.from_bytes(data[:4], "little")
    if count > MOST:
        return (), f"it says that it has {count} entries; {MOST} are read at most"
    if len(data) < HEADER + count * ENTRY:
        return (), f"it says that it has {count} entries and is cut short"
    made = []
    for at in range(HEADER, HEADER + count * ENTRY, ENTRY):
        _kind, version, lowest, _flags, last, status = (
            int.from_bytes(data[at + one : at + one + 4], "little") for one in range(16, 40, 4)
        )
        made.append(Resource(efi_guid(data[at : at + 16]), version, lowest, last, status, f"{file}, offset {at}"))
    return tuple(made), ""


def _text(text: str, file: str) -> tuple[tuple[Resource, ...], str]:
    entries: dict[str, dict[str, str]] = {}
    first: dict[str, int] = {}
    for number, line in enumerate(text.splitlines(), 1):
        found = _LINE.fullmatch(line.strip())
        if found:
            entries.setdefault(found[1], {}).setdefault(found[2], found[3])
            first.setdefault(found[1], number)
    if not entries:
        return (), "no line of an entry is in it (entry0/fw_class: and so on)"
    if len(entries) > MOST:
        return (), f"it has more than {MOST} entries"
    made = []
    for name, values in entries.items():
        try:
            if not _GUID.fullmatch(values["fw_class"]):
                return (), f"{name} names no GUID as its fw_class"
            version, lowest, last, status = (int(values[one], 0) for one in _NUMBERS)
        except KeyError as missing:
            return (), f"{name} lacks {missing.args[0]}"
        except ValueError:
            return (), f"{name} has a value that is no number"
        made.append(Resource(values["fw_class"].upper(), version, lowest, last, status, f"{file}:{first[name]}"))
    return tuple(made), ""
