"""The digest that a signature of a PE image covers.

Microsoft, "Windows Authenticode Portable Executable Signature Format" (2008), "Calculating the PE Image Hash"; UEFI
Specification, "Image Execution Information Table" and TianoCore's loader follow it. Left out are the checksum, the
certificate table's directory entry and the table itself; sections come in the order of their place in the file, and
what lies behind them is covered too.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from catalogue.formats.limits import MAX_SIGNED_BYTES
from catalogue.formats.pe_sections import Section
from catalogue.formats.view import View

ALGORITHMS = ("md5", "sha1", "sha224", "sha256", "sha384", "sha512")
_CHUNK = 1 << 20
_CHECKSUM_BYTES, _ENTRY_BYTES = 4, 8


@dataclass(frozen=True, slots=True)
class Outline:
    """Where the parts of an image lie that its digest tells apart: offsets and lengths in bytes.

    `end` is where the image ends if that is before the end of what it lies in.
    """

    checksum: int
    entry: int
    headers_size: int
    sections: Sequence[Section]
    table: tuple[int, int]
    end: int | None = None


def covered(outline: Outline, size: int) -> list[tuple[int, int]]:
    """The stretches [start, end) of a file of `size` bytes that are hashed, in that order."""
    size = size if outline.end is None else min(size, outline.end)
    headers = min(outline.headers_size, size)
    after_checksum, after_entry = outline.checksum + _CHECKSUM_BYTES, outline.entry + _ENTRY_BYTES
    stretches = [(0, outline.checksum), (after_checksum, outline.entry), (after_entry, headers)]
    summed = headers
    for one in sorted((one for one in outline.sections if one.size), key=lambda one: one.offset):
        stretches.append((one.offset, min(one.offset + one.size, size)))
        summed += one.size
    # What lies behind is reckoned from the sum of what was hashed, not from the last section's end (steps 13 to 15).
    start, end = outline.table
    stretches += [(summed, start), (max(summed, end), size)]
    return [(at, stop) for at, stop in stretches if at < stop]


def image_digests(view: View, outline: Outline, names: Iterable[str]) -> Mapping[str, str]:
    """The image's digest by each algorithm of `names` that is known, in hex; empty where too much is to be hashed.

    Raises nothing but the view's own OSError.
    """
    stretches = covered(outline, view.size)
    # Sections that lie over one another would let a small file ask for any amount of work.
    if sum(stop - at for at, stop in stretches) > min(MAX_SIGNED_BYTES, 2 * view.size):
        return {}
    hashes = {name: hashlib.new(name, usedforsecurity=False) for name in names if name in ALGORITHMS}
    for start, stop in stretches if hashes else ():
        for at in range(start, stop, _CHUNK):
            block = view.at(at, min(_CHUNK, stop - at))
            for one in hashes.values():
                one.update(block)
    return {name: one.hexdigest() for name, one in hashes.items()}
