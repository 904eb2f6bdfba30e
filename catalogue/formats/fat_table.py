"""The file allocation table: which cluster follows which, bounded whatever the table says.

Microsoft FAT32 File System Specification 1.03, "FAT Data Structure".
"""

from __future__ import annotations

from array import array
from sys import byteorder

from catalogue.formats.disk_files import Extent, joined
from catalogue.formats.fat_boot import Layout
from catalogue.formats.limits import MAX_DISK_EXTENTS, MAX_DISK_STEPS
from catalogue.formats.view import View

_PAGE = 64 << 10
_PAGES = 128
_RUN = 1_024
CIRCLE = "has a cluster chain that runs in a circle"
OVER = "was not followed: the files of this image claim more clusters than it has"


class Table:
    """One copy of the table. `left` is how many more clusters are followed in this image."""

    def __init__(self, view: View, layout: Layout, copy: int) -> None:
        self._view = view
        self._layout = layout
        self._at = layout.table_at(copy)
        self._end = min(view.size, self._at + layout.table_bytes)
        self._pages: dict[int, bytes] = {}
        self.left = 2 * layout.clusters + MAX_DISK_STEPS
        self.last = layout.clusters + 1
        mask = (1 << (28 if layout.bits == 32 else layout.bits)) - 1
        self._bad, self._ends = mask - 8, mask - 7

    def entry(self, cluster: int) -> int | None:
        """What the table says of a cluster, the reserved top bits of FAT32 cleared; None where it does not reach."""
        bits = self._layout.bits
        if bits == 12:
            pair = self._bytes(cluster * 3 // 2, 2)
            if len(pair) < 2:
                return None
            both = int.from_bytes(pair, "little")
            return both >> 4 if cluster & 1 else both & 0xFFF
        raw = self._bytes(cluster * bits // 8, bits // 8)
        return int.from_bytes(raw, "little") & 0x0FFF_FFFF if len(raw) == bits // 8 else None

    def chain(self, first: int, most: int) -> tuple[tuple[Extent, ...], int, str]:
        """The stretches of a chain, at most `most` clusters of it; how many clusters; and what is wrong with it.

        The chain must end where `most` is reached; "goes on" is said by a text that begins so.
        """
        layout = self._layout
        size, base = layout.cluster, layout.data_offset
        found: list[Extent] = []
        start = before = cluster = first
        count = try_at = 0
        why = ""
        while True:
            if not 2 <= cluster <= self.last:
                why = f"has a cluster chain that leads to cluster {cluster}, which does not exist"
                break
            if count and cluster != before + 1:
                found.append((base + (start - 2) * size, (before + 1 - start) * size))
                start = cluster
                if len(found) >= MAX_DISK_EXTENTS:
                    why = "lies in too many stretches"
                    break
            before = cluster
            count += 1
            self.left -= 1
            following = self.entry(cluster)
            if following is None:
                why = "has a cluster chain that the table is too short for"
            elif following >= self._ends:
                break
            elif following == 0:
                why = "has a cluster chain that leads to a free cluster"
            elif following == self._bad:
                why = "has a cluster chain that leads to a bad cluster"
            elif count >= most:
                why = "goes on: its cluster chain is longer than its size"
            elif self.left <= 0:
                why = OVER
            if why or following is None:
                break
            if following == cluster + 1 and count >= try_at:
                step = self._run(cluster, min(most - count, self.left))
                if not step:
                    try_at = count + _RUN // 4
                else:
                    count, self.left = count + step - 1, self.left - step + 1
                    before, following = cluster + step - 1, cluster + step
            cluster = following
        if count and before >= start:
            found.append((base + (start - 2) * size, (before + 1 - start) * size))
        return joined(found), count, CIRCLE if _overlaps(found) else why

    def _run(self, cluster: int, most: int) -> int:
        """How far the chain surely goes on one cluster after the other, looked at all at once; 0 for a short way."""
        width, code = self._layout.bits // 8, "H" if self._layout.bits == 16 else "I"
        count = min(_RUN, most, self.last - cluster)
        if self._layout.bits == 12 or count < _RUN // 16:
            return 0
        expected = array(code, range(cluster + 1, cluster + 1 + count))
        if byteorder == "big":
            expected.byteswap()
        return count if self._bytes(cluster * width, count * width) == expected.tobytes() else 0

    def _bytes(self, offset: int, length: int) -> bytes:
        page, within = divmod(offset, _PAGE)
        part = self._page(page)[within : within + length]
        return part + self._page(page + 1)[: length - len(part)] if len(part) < length else part

    def _page(self, page: int) -> bytes:
        data = self._pages.get(page)
        if data is None:
            if len(self._pages) >= _PAGES:
                self._pages.clear()
            at = self._at + page * _PAGE
            data = self._pages[page] = self._view.at(at, max(0, min(_PAGE, self._end - at)))
        return data


def _overlaps(extents: list[Extent]) -> bool:
    stop = -1
    for offset, length in sorted(extents):
        if offset < stop:
            return True
        stop = offset + length
    return False
