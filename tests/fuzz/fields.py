"""Single numbers of sound structures made hostile: every place, width and byte order, with what bounds trip over.

Where a structure points, the value may point at itself, at its own field, at the end, beyond it, or 4 GiB away.
"""

from __future__ import annotations

from collections.abc import Iterator

WIDTHS = (1, 2, 3, 4, 8)
ORDERS = ("little", "big")


def values(size: int, at: int, width: int) -> tuple[int, ...]:
    """What one number of `width` bytes at `at` may become, in a piece of `size` bytes."""
    top = (1 << 8 * width) - 1
    wanted = {0, 1, 2, at, at + width, max(0, at - 4), size, size - 1, size + 1, size // 2, size - at, top, top >> 1}
    wanted |= {(top >> 1) + 1, top - 1, 0xFFFF, 0x10000, 0xFFFF_FFFF, 0x7FFF_FFFF, 100_000, 64 << 20}
    return tuple(sorted(one for one in wanted if 0 <= one <= top))


def hostile(data: bytes, at: int, width: int, order: str, value: int) -> bytes:
    """`data` with that number at that place; what stands behind the end is cut off."""
    raw = value.to_bytes(width, "little" if order == "little" else "big")[: len(data) - at]
    return data[:at] + raw + data[at + len(raw) :]


def every(data: bytes, start: int = 0, stop: int | None = None) -> Iterator[bytes]:
    """Each hostile number at each place from `start` to `stop`."""
    for at in range(start, min(len(data), len(data) if stop is None else stop)):
        for width in WIDTHS:
            for order in ORDERS if width > 1 else ORDERS[:1]:
                for value in values(len(data), at, width):
                    yield hostile(data, at, width, order, value)
