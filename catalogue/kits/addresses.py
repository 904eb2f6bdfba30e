"""Addresses of the family's company that stand in an EEPROM image, wherever they lie.

SAS addresses are 64 bits, big-endian: NAA 5h, a 24-bit company ID, 36 bits of the maker's own (INCITS T10 SPC, SPL).
Some configuration EEPROMs keep them with the bytes turned round (common practice, no published source), so both are
looked for. By chance 448 random bytes show one once in some 300,000 images for one company ID.
"""

from __future__ import annotations

from collections.abc import Iterable

from catalogue.shapes.reading import Field

NAA_IEEE_REGISTERED = 0x5
LENGTH = 8
MOST_BYTES = 64 << 10
"""A configuration EEPROM is small; of a longer piece only the beginning is looked through."""
MOST_FOUND = 32


def scan(data: bytes, ouis: Iterable[int]) -> tuple[Field, ...]:
    """Every place where NAA 5h and one of `ouis` (24-bit company IDs) stand, as a field of 8 bytes with the address."""
    data, known = data[:MOST_BYTES], frozenset(ouis)
    found: list[Field] = []
    for start in sorted({start for oui in known for start in _places(data, oui)}):
        stored = data[start : start + LENGTH]
        for raw, turned in ((stored, ""), (stored[::-1], ", bytes turned round")):
            address = int.from_bytes(raw, "big")
            if address >> 60 == NAA_IEEE_REGISTERED and (address >> 36) & 0xFFFFFF in known:
                text = f"NAA 5h and a company ID of the family{turned}"
                found.append(Field("address", f"{address:016X}", start, LENGTH, text, "INCITS T10 SPC"))
    return tuple(found[:MOST_FOUND])


def _places(data: bytes, oui: int) -> Iterable[int]:
    """Where an address of this company ID may begin: NAA and company ID fill 28 bits, so three bytes are whole."""
    head = (((NAA_IEEE_REGISTERED << 24) | oui) >> 4).to_bytes(3, "big")
    for pattern, back in ((head, 0), (head[::-1], LENGTH - len(head))):
        at = data.find(pattern)
        while at >= 0:
            if at - back >= 0 and at - back + LENGTH <= len(data):
                yield at - back
            at = data.find(pattern, at + 1)
