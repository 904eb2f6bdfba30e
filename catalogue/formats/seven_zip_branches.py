"""BCJ2: x86 code whose branch targets were made absolute and put into streams of their own.

Method 0303011Bh of Methods.txt in the LZMA SDK (public domain); its decoder Bcj2.c is from memory and is checked in the
tests against what 7-Zip packs.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from catalogue.formats.archive_items import CHUNK, Unreadable

_OPCODE = re.compile(rb"[\xe8\xe9]|(?<=\x0f)[\x80-\x8f]", re.S)
_TOP, _HALF, _MOVE, _BITS = 1 << 24, 1 << 10, 5, 11


class _Feed:
    """One input, taken in small counts."""

    def __init__(self, parts: Iterator[bytes]) -> None:
        self._parts = parts
        self._held = b""
        self._at = 0

    def take(self, count: int) -> bytes:
        """Exactly `count` bytes. Raises Unreadable where there are fewer."""
        stop = self._at + count
        while stop > len(self._held):
            part = next(self._parts, None)
            if part is None:
                raise Unreadable("unpacks to fewer bytes than its header says")
            self._held = self._held[self._at :] + part
            self._at, stop = 0, count
        got = self._held[self._at : stop]
        self._at = stop
        return got


def unbranched(inputs: Sequence[Iterator[bytes]], size: int) -> Iterator[bytes]:
    """`size` bytes of code from four streams: the code, targets of calls, targets of jumps, bits that say which is one.

    Raises Unreadable, and what the streams raise.
    """
    main, calls, jumps, coded = inputs
    call, jump, bits = _Feed(calls), _Feed(jumps), _Feed(coded)
    odds = [_HALF] * 258
    code, span = int.from_bytes(bits.take(5), "big") & 0xFFFF_FFFF, 0xFFFF_FFFF
    before, done = 0, 0
    out = bytearray()
    for part in main:
        at = 0
        data = part
        while at < len(data):
            if before == 0x0F and 0x80 <= data[at] <= 0x8F:
                stop = at
            else:
                found = _OPCODE.search(data, at)
                if found is not None and found.start() == at and 0x80 <= data[at] <= 0x8F:
                    found = _OPCODE.search(data, at + 1)  # the 0Fh before it is no longer what stands before it
                if found is None:
                    out += data[at:]
                    done += len(data) - at
                    before = data[-1]
                    break
                stop = found.start()
            out += data[at : stop + 1]
            done += stop + 1 - at
            last = data[stop]
            which = (data[stop - 1] if stop > at else before) if last == 0xE8 else 256 if last == 0xE9 else 257
            before = last
            at = stop + 1
            if done >= size:
                break
            bound = (span >> _BITS) * odds[which]
            if code < bound:
                span = bound
                odds[which] += ((1 << _BITS) - odds[which]) >> _MOVE
                taken = False
            else:
                span -= bound
                code -= bound
                odds[which] -= odds[which] >> _MOVE
                taken = True
            if span < _TOP:
                span <<= 8
                code = (code << 8 | bits.take(1)[0]) & 0xFFFF_FFFF
            if taken:
                target = int.from_bytes((call if last == 0xE8 else jump).take(4), "big") - (done + 4)
                raw = (target & 0xFFFF_FFFF).to_bytes(4, "little")
                out += raw
                done += 4
                before = raw[3]
        if len(out) >= CHUNK:
            yield bytes(out)
            out.clear()
    yield bytes(out)
