"""Archives that are appended to a program: a self-extracting one is such a program."""

from __future__ import annotations

from catalogue.formats import cabinet, seven_zip, zip_archive
from catalogue.formats.view import PartView, View
from catalogue.shapes.reading import Fault, Reading

_ARTICLES = {"zip": "A zip archive", "7z": "A 7z archive", "cab": "A cabinet"}


def behind(view: View, start: int, stop: int) -> Reading | None:
    """The archive in [start, stop), which lies behind a program; None where none is surely there.

    Offsets are absolute in `view`. A zip archive is found by its end, which may lie behind `stop`.
    """
    found = zip_archive.behind(view, start)
    if found is not None:
        return found
    part = view if stop == view.size else PartView(view, 0, stop)
    # A cabinet begins right at `start`; a 7z archive, which may stand further on, could be one of its files.
    return cabinet.behind(part, start) or seven_zip.behind(part, start)


def self_extracting(archive: Reading) -> Fault:
    """The note that says so."""
    return Fault("self-extracting", f"{_ARTICLES[archive.format]} lies behind the program.", archive.offset)
