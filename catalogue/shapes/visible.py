"""Text from files made safe to show: what would move a cursor, hide or reorder text is shown as an escape."""

from __future__ import annotations

import unicodedata

HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
"""Unicode general categories that a person cannot see or that change what stands beside them (UAX #44, table 12)."""


def visible(text: str, most: int = 4_096) -> str:
    """`text` with every control, format (bidirectional too), surrogate and unassigned character escaped.

    A byte that was no UTF-8 in a file name (a surrogate escape) shows as \\xNN. Longer than `most`: cut, and said.
    """
    cut = len(text) > most
    shown = "".join(map(_one, text[:most]))
    return f"{shown} … ({len(text)} characters)" if cut else shown


def _one(character: str) -> str:
    if " " <= character <= "~":
        return character
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:
        return f"\\x{code - 0xDC00:02x}"
    if unicodedata.category(character) not in HIDDEN:
        return character
    if code <= 0xFF:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"
