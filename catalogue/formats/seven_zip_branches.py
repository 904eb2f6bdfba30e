"""BCJ2: x86 code whose branch targets were made absolute and put into streams of their own.

Method 0303011Bh of Methods.txt in the LZMA SDK (public domain); its decoder Bcj2.c is from memory and is checked in the
tests against what 7-Zip packs.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from catalogue.formats.archive_items import CHUNK, Unreadable
from catalogue.formats.limits import BRANCH_BYTES, MAX_BRANCHES_FREE

_OPCODE = re.compile(rb"[\xe8\xe9]|(?<=\x0f)[\x80-\x8f]", re.S)
_TOP, _HALF, _MOVE, _BITS = 1 << 24, 1 << 10, 5, 11


class _Feed:
    """One input, taken in small counts."""

    def __init__(self, parts: Iterator[bytes]) -> None:
        self._parts = parts
        self._held = b""
        self._at = 0

    def more(self) -> bytes:
        """All that is at hand, at least one byte. Raises Unreadable at the end."""
        first = self.take(1)
        rest = self._held[self._at :]
        self._at = len(self._held)
        return first + rest

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
    held, place = b"", 0
    before, done, count, most = 0, 0, 0, MAX_BRANCHES_FREE + size // BRANCH_BYTES
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
            odd = odds[which]
            count += 1
            if count > most:
                raise Unreadable("has more branches than code has")
            bound = (span >> _BITS) * odd
            taken = code >= bound
            if taken:
                span -= bound
                code -= bound
                odds[which] = odd - (odd >> _MOVE)
            else:
                span = bound
                odds[which] = odd + (((1 << _BITS) - odd) >> _MOVE)
            if span < _TOP:
                span <<= 8
                if place == len(held):
                    held, place = bits.more(), 0
                code = (code << 8 | held[place]) & 0xFFFF_FFFF
                place += 1
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
