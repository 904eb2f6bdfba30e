"""Text for a person: what files say made harmless to read, and numbers in words.

Nothing that comes from a file is ever handed to Qt as rich text; control characters and the marks that turn the
direction of writing (Unicode Standard Annex 9) are shown, not obeyed.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from catalogue.shapes.reading import SignedBy
from catalogue.shapes.visible import visible

if TYPE_CHECKING:
    from catalogue.shapes.reading import CardId, Field, FieldValue


MOST = 2_000
INTO = " › "
"""As `catalogue.shapes.piece.INTO`, without the import of all shapes at the start; a test holds the two together."""
HASH_SHOWN = 12
HEX_NAMES = ("vendor", "device", "class", "code_type", "subvendor", "subdevice", "machine", "subsystem", "signature")
_DIGEST = re.compile(r"\b[0-9a-fA-F]{32,}\b")
BYTES_NAMES = ("offset", "length", "size", "pointer")


def plain(text: str, most: int = MOST) -> str:
    """`text` on one line, with what a person could not see or would be misled by made visible; cut at `most`."""
    return visible(text, most)


def plain_lines(text: str, most: int = MOST) -> str:
    """The same, but line ends stay."""
    return "\n".join(plain(line, most) for line in text[:most].splitlines())


def tip(text: str) -> str:
    """`text` for a tool tip, which Qt would otherwise take for rich text where it looks like it."""
    said = plain(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return f"<p>{said}</p>"


def short_place(place: str, most: int = 3) -> str:
    """A place with only the last parts of its path, which is what tells places apart on a screen."""
    outer, into, inside = place.partition(INTO)
    parts = outer.replace("\\", "/").split("/")
    shown = "/".join(parts[-most:]) if len(parts) > most else outer
    return plain(f"{shown}{into}{inside}", 400)


def around(place: str) -> str:
    """The folder or archive that what a place leads to lies in."""
    outer, into, _ = place.rpartition(INTO)
    if into:
        return outer
    path = place.replace("\\", "/")
    return path.rpartition("/")[0] or path


def last_name(place: str) -> str:
    """The name of the file or member that a place leads to."""
    return plain(place.rpartition(INTO)[2].replace("\\", "/").rpartition("/")[2], 200)


def size(count: int) -> str:
    """A size in bytes: exact when small, else rounded with its unit (powers of 1,024, IEC 80000-13)."""
    if count < 10_240:
        return f"{count:,} bytes" if count != 1 else "1 byte"
    value = float(count)
    for name in ("KiB", "MiB", "GiB"):
        value /= 1024
        if value < 1_000 or name == "GiB":
            return f"{value:,.0f} {name}" if value >= 100 else f"{value:,.1f} {name}"
    return f"{count:,} bytes"


def offset(value: int) -> str:
    """An offset as the trade writes it: at least four hex digits and an h."""
    return f"{value:04X}h"


def count(number: int, one: str, many: str = "") -> str:
    """ "1 piece", "3 pieces", "no pieces"."""
    many = many or one + "s"
    return f"{number:,} {one if number == 1 else many}" if number else f"no {many}"


def short_hash(sha256: str) -> str:
    """The beginning of a hash, enough to tell pieces apart on a screen and to search by."""
    return sha256[:HASH_SHOWN]


def short_digests(said: str) -> str:
    """`said` with each digest in it (MD5's 32 hex digits and longer) cut to its beginning, which a line can hold."""
    return _DIGEST.sub(lambda found: short_hash(found.group()) + "…", said)


def pci_id(one: CardId) -> str:
    """An image's IDs: vendor:device, then how many more its list holds."""
    more = [device for device in one.devices if device != one.device]
    return f"{one.vendor:04X}:{one.device:04X}" + (f" and {len(more)} more" if more else "")


def value(field: Field) -> str:
    """A field's value as a person reads it."""
    return _value(field.name.lower(), field.value)


def _value(name: str, what: FieldValue | SignedBy) -> str:
    if what is None:
        return "not given"
    if isinstance(what, bool):
        return "yes" if what else "no"
    if isinstance(what, int):
        if any(part in name for part in HEX_NAMES) and not name.endswith("count"):
            return f"{what:04X}h" if what < 0x10000 else f"{what:06X}h"
        if any(part in name for part in BYTES_NAMES):
            return f"{what:,} ({offset(what)})" if what > 9 else str(what)
        return f"{what:,} ({what:X}h)" if what > 9 else str(what)
    if isinstance(what, str | SignedBy):
        return plain(str(what), 400) or "blank"
    parts = [_value(name, one) for one in what[:24]]
    return (", ".join(parts) or "empty") + (f" and {len(what) - 24} more" if len(what) > 24 else "")


SHORT_FORMS = frozenset({"eeprom", "uefi", "rom", "efi", "pci", "sas", "mac", "cpu", "id", "dos", "pnp", "undi", "crc"})


def name_of(raw: str) -> str:
    """A field's or role's own name without its underlines: device list, legacy boot ROM."""
    words = plain(raw).replace("_", " ").replace("-", " ").split(" ")
    return " ".join(word.upper() if word.lower() in SHORT_FORMS else word for word in words)


KINDS = {
    "option-rom": "Option ROM of several images",
    "option-rom/legacy-x86": "Option ROM, legacy x86",
    "option-rom/efi": "Option ROM, EFI",
    "option-rom/open-firmware": "Option ROM, Open Firmware",
    "option-rom/isa": "Option ROM, ISA",
    "efi-driver": "EFI driver image",
    "efi-application": "EFI application",
    "dos-program": "DOS program",
    "eeprom-image": "Configuration EEPROM image",
    "vpd": "Vital product data",
    "uf2": "UF2 firmware",
    "dfu-file": "Firmware with a DFU suffix",
    "fcode-program": "FCode program",
    "intel-hex": "Intel HEX text",
    "s-record": "S-record text",
    "pldm-package": "PLDM firmware package",
    "opaque": "Bytes of no known format",
}
"""Kinds whose own word says too little; all others are said as they are called."""


def kind_words(kind: str) -> str:
    """A kind in words: "Firmware volume", "Archive, zip"."""
    return KINDS.get(kind) or begun(plain(kind, 80).replace("/", ", ").replace("-", " "))


def begun(sentence: str) -> str:
    """The same, beginning with a capital; the rest as it is."""
    return sentence[:1].upper() + sentence[1:]
