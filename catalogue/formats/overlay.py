"""What lies behind a program: padding or something else."""

from __future__ import annotations

from catalogue.formats.fill import look
from catalogue.formats.limits import MAX_SCAN
from catalogue.formats.view import View

_FIRST = 64


def is_padding(view: View, start: int, end: int) -> bool:
    """Whether [start, end) is nothing but 00h and FFh; False for a stretch too long to be looked through."""
    if end - start > MAX_SCAN or view.at(start, min(_FIRST, end - start)).strip(b"\0\xff"):
        return False
    stretch = look(view, start, end)
    return stretch.data_start == stretch.data_end
