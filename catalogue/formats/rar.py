"""RAR archives, recognised by their first bytes and not opened: there is no published standard to read them by."""

from __future__ import annotations

from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Reading, Span

MAGIC = b"Rar!\x1a\x07"
"""From memory; 00h follows in the older form, 01 00h in the newer one."""
KIND = "archive/rar"


def looks_like(view: View) -> Looks:
    """SURE for the first bytes of either form."""
    first = view.at(0, 8)
    return Looks.SURE if first[:7] == MAGIC + b"\0" or first == MAGIC + b"\1\0" else Looks.NO


def read(view: View) -> Reading | None:
    """The archive that begins `view`, unopened."""
    if looks_like(view) is Looks.NO:
        return None
    form = "5" if view.at(6, 1) == b"\1" else "1.5 to 4"
    text = "This archive is not opened here: unpack it by hand and index what it holds."
    return Reading(
        format="rar",
        kind=KIND,
        title=f"RAR archive (format {form}), not opened",
        length=view.size,
        faults=(Fault("archive-not-opened", text, 0),),
        spans=(Span("unread archive", 0, view.size),),
    )


READER = Reader(
    first=(MAGIC[:4],),
    name="rar",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=1,
    source="first bytes, from memory",
    depth="recognised only; it is said that it is not opened",
)
