"""Places in bytes where a short sign of a text stands, each with the text around it, ASCII or UTF-16LE."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from catalogue.formats.limits import MAX_SCAN
from catalogue.formats.view import View

CHUNK = 256 << 10
BEFORE, AFTER = 64, 64
"""Characters looked at on either side of a sign."""
_OVERLAP = 2 * (BEFORE + AFTER)
TAIL = 1 << 20
"""Bytes at the end of a long piece that are looked through besides its beginning."""
_RUN = re.compile(r"[\t\x20-\x7e]*\Z")


Sign = re.Pattern[bytes]
"""What is looked for, in ASCII or UTF-16LE: where the second byte of the match is 0, or the one before it, it is wide.

A pattern that begins with one fixed byte is searched at the speed of memory; each costs, so there are few.
"""


@dataclass(frozen=True, slots=True)
class Hit:
    """The text around a sign, a byte or a 16-bit unit a character; the sign stands at `at` in it.

    `origin` is the offset in the piece of the text's first character, `width` the bytes of one.
    """

    text: str
    at: int
    origin: int
    width: int

    def offset(self, index: int) -> int:
        """The offset in the piece of the character at `index`."""
        return self.origin + index * self.width

    def before(self, index: int) -> str:
        """The printable text that ends at `index`, back to the beginning of its line."""
        found = _RUN.search(self.text, 0, index)
        return found[0] if found else ""


def hits(view: View, signs: Sequence[Sign], most: int) -> Iterator[tuple[int, Hit]]:
    """Where the signs stand, with each hit its sign's number; each sign at most `most` times.

    Chunk by chunk, and in each sign by sign, in the order of the offsets; a hit is where the match begins. Of a piece
    longer than MAX_SCAN the beginning and the last megabyte are looked through.
    """
    stretches = [(0, view.size)]
    if view.size > MAX_SCAN:
        stretches = [(0, MAX_SCAN - TAIL), (view.size - TAIL, view.size)]
    left = [most] * len(signs)
    for first, last in stretches:
        for at in range(first, last, CHUNK):
            start = max(first, at - _OVERLAP)
            data = view.at(start, min(at + CHUNK + _OVERLAP, last) - start)
            for index, sign in enumerate(signs):
                for match in sign.finditer(data, at - start):
                    place = match.start()
                    if place >= at - start + CHUNK:
                        break
                    left[index] -= 1
                    if left[index] < 0:
                        break
                    yield index, _hit(data, place, start, 2 if data[place + 1 : place + 2] == b"\0" else 1)


def _hit(data: bytes, place: int, start: int, width: int) -> Hit:
    back = min(BEFORE, place // width)
    begin = place - back * width
    window = data[begin : place + AFTER * width]
    if width == 2:
        window = _narrow(window)
    return Hit(window.decode("latin-1"), back, start + begin, width)


def _narrow(window: bytes) -> bytes:
    """The low bytes of UTF-16LE; FFh stands where the high byte is not 0, so that no text runs across it."""
    if not any(window[1::2]):
        return window[::2]
    return bytes(low if high == 0 else 0xFF for low, high in zip(window[::2], window[1::2], strict=False))
