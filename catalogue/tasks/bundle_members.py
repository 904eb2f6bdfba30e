"""What lies in a bundle: the files of a folder, the members of an archive, nested ones too, each with its digest."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from catalogue import formats
from catalogue.comparing.members_between import Held
from catalogue.errors import NotWorkable
from catalogue.formats.view import View
from catalogue.intake.archives import Road, open_archive
from catalogue.intake.containers import is_archive
from catalogue.intake.files import Unread, read_file
from catalogue.intake.hashing import BUFFER_BYTES
from catalogue.intake.walk import look
from catalogue.shapes.piece import Place
from catalogue.shapes.progress import Progress
from catalogue.store.found import MemberFound, PieceFound

MOST_FILES = 100_000
"""Files of one folder, with all that lies in its folders and archives."""
INTO = str(Place("", ("x",)))[:-1]


def of_folder(folder: Path, progress: Progress) -> dict[str, Held]:
    """Every file below `folder`, and what archives among them hold, by the way from there.

    Raises NotWorkable where the folder cannot be looked into or holds more than MOST_FILES, and what `progress` raises.
    """
    held: dict[str, Held] = {}
    buffer = bytearray(BUFFER_BYTES)
    root = os.fsencode(folder)
    ahead = [b""]
    while ahead:
        inner = ahead.pop()
        found = look(os.path.join(root, inner) if inner else root)  # noqa: PTH118 (bytes)
        if found.failed:
            if not inner:
                raise NotWorkable(f"{folder} cannot be looked into: {found.failed}")
            held[os.fsdecode(inner)] = Held("", 0, "folder", found.failed)
        for name, _stamp in found.files:
            way = inner + b"/" + name if inner else name
            progress.report(len(held), None, os.fsdecode(way))
            try:
                _read, piece = read_file(os.path.join(root, way), buffer, lambda: False)  # noqa: PTH118 (bytes)
            except Unread as error:
                held[os.fsdecode(way)] = Held("", 0, "opaque", str(error))
                continue
            _put(held, os.fsdecode(way), piece)
        for name, why in found.unreadable:
            held[os.fsdecode(inner + b"/" + name if inner else name)] = Held("", 0, "opaque", why)
        ahead += [inner + b"/" + name if inner else name for name in found.folders]
        if len(held) > MOST_FILES:
            raise NotWorkable(f"{folder} holds more than {MOST_FILES} files; compare folders inside it.")
    return held


def of_archive(view: View, what: str) -> dict[str, Held] | None:
    """The members of the archive in `view`, nested ones too; None where it is none. Raises the view's OSError."""
    reading = formats.known(view)
    if reading is None or not is_archive(reading):
        return None
    members, why = open_archive(view, reading, Road(view.size, lambda: False), what)
    held: dict[str, Held] = {}
    _members(held, "", members)
    if why and not held:
        held[""] = Held("", 0, reading.kind, why)
    return held


def _put(held: dict[str, Held], way: str, piece: PieceFound) -> None:
    held[way] = Held(piece.sha256.hex(), piece.size, piece.reading.kind)
    if piece.members:
        _members(held, f"{way}{INTO}", piece.members)


def _members(held: dict[str, Held], before: str, members: Iterable[MemberFound]) -> None:
    for way, one in _numbered(before, members):
        if one.piece is None:
            held[way] = Held("", one.size, "opaque", one.why or "It cannot be read.")
        else:
            _put(held, way, one.piece)


def _numbered(before: str, members: Iterable[MemberFound]) -> Iterator[tuple[str, MemberFound]]:
    """Each member with its way; those of one name are numbered."""
    seen: dict[str, int] = {}
    for one in members:
        count = seen[one.name] = seen.get(one.name, 0) + 1
        yield before + (one.name if count == 1 else f"{one.name} ({count})"), one
