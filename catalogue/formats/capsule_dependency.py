"""The dependencies of a firmware image: an expression over versions of other firmware, in reverse Polish order.

UEFI Specification 2.x, 23.2 (dependency expression instruction set). Nothing is evaluated.
"""

from __future__ import annotations

from catalogue.formats.limits import MAX_DEVICES
from catalogue.formats.rows import efi_guid, printable
from catalogue.formats.view import View
from catalogue.shapes.reading import Field

SOURCE = "UEFI Specification 23.2"
MOST = 4_096
"""Bytes of one expression that are read."""
_GUID, _VERSION, _TEXT, _END, _LENGTH = 0x00, 0x01, 0x02, 0x0D, 0x0E
_WORDS = {
    0x03: "and",
    0x04: "or",
    0x05: "not",
    0x06: "true",
    0x07: "false",
    0x08: "=",
    0x09: ">",
    0x0A: ">=",
    0x0B: "<",
    0x0C: "<=",
}


def read(view: View, at: int) -> Field | None:
    """The expression at `at` as a field, one entry an instruction; None where no END closes it."""
    raw = view.at(at, MOST)
    words: list[str] = []
    here = 0
    while here < len(raw) and len(words) < MAX_DEVICES:
        code = raw[here]
        here += 1
        if code == _END:
            meaning = "What must be there first, in reverse Polish order"
            return Field("dependencies", tuple(words), at, here, meaning, SOURCE)
        if code == _GUID:
            words.append(efi_guid(raw[here : here + 16]))
            here += 16
        elif code in (_VERSION, _LENGTH):
            number = int.from_bytes(raw[here : here + 4], "little")
            words.append(f"{number:#010x}" if code == _VERSION else f"length {number}")
            here += 4
        elif code == _TEXT:
            end = raw.find(b"\0", here)
            if end < 0:
                return None
            words.append(printable(raw[here:end]))
            here = end + 1
        elif code in _WORDS:
            words.append(_WORDS[code])
        else:
            return None
    return None
