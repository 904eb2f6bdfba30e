"""Bytes of no known format: what can still be said of them."""

from __future__ import annotations

from functools import lru_cache

from catalogue.formats import date_stamps, versions
from catalogue.formats.limits import MAX_FILL_BYTES
from catalogue.formats.looks import binary_looks
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import PartView, View
from catalogue.shapes.reading import Field, Reading, Span

_STEP = 1 << 20
_MAY_BE_BLANK = (b"", b"\0", b"\xff")
TITLE = "Bytes of no known format"


def fill_byte(view: View) -> int | None:
    """00h or FFh where every byte is that, else None; None too for no bytes and for more than MAX_FILL_BYTES."""
    first = view.at(0, 1)
    if first not in (b"\0", b"\xff") or view.size > MAX_FILL_BYTES:
        return None
    block = first * min(_STEP, view.size)
    for at in range(0, view.size, _STEP):
        data = view.at(at, _STEP)
        if data != (block if len(data) == len(block) else block[: len(data)]):
            return None
    return first[0]


def looks_like(view: View) -> Looks:
    """MAYBE for anything: this is the last row of the table."""
    return Looks.MAYBE


def read(view: View, most: int | None = None) -> Reading:
    """What can be said of any bytes: blank or not, the version-like strings in them (in the first `most` bytes)."""
    fill = fill_byte(view)
    if view.size == 0:
        return _reading(view, "Empty file")
    if fill is not None:
        said = Field("fill", fill, 0, view.size, "Every byte is this one")
        return _reading(view, f"Blank: nothing but {fill:02X}h", (said,), (Span("blank", 0, view.size),))
    head = view.at(0, 16)
    looks = binary_looks(head)
    if looks:
        said = Field("looks", looks, 0, len(head), "What the first bytes look like")
        return _reading(view, "Binary patch for another file", (said,))
    where = view if most is None else PartView(view, 0, most)
    claims, dates = versions.find(where), date_stamps.find(where)
    return Reading("opaque", "opaque", TITLE, length=view.size, versions=claims, dates=dates)


def is_plain(data: bytes) -> bool:
    """Whether `read` would find nothing to say of these bytes but their length (a quick look; False may be wrong)."""
    if data[:1] in _MAY_BE_BLANK or binary_looks(data[:16]):
        return False
    return not versions.may_hold(data) and not date_stamps.may_hold(data)


@lru_cache(maxsize=4_096)
def plain(length: int) -> Reading:
    """The reading of bytes of which nothing can be said but their length."""
    return Reading("opaque", "opaque", TITLE, length=length)


def _reading(view: View, title: str, fields: tuple[Field, ...] = (), spans: tuple[Span, ...] = ()) -> Reading:
    return Reading("opaque", "opaque", title, length=view.size, fields=fields, spans=spans)


READER = Reader(
    name="opaque",
    kinds=("opaque",),
    looks_like=looks_like,
    read=read,
    version=3,
    source="none",
    depth="blank or not, version-like strings and dates with their offsets",
    alone=True,
)
