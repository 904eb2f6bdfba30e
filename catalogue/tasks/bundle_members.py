"""What lies in a bundle: the files of a folder, the members of an archive, nested ones too, each with its digest."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from catalogue import formats
from catalogue.comparing.members_between import Bundle, Held
from catalogue.errors import NotWorkable, Stopped
from catalogue.formats.view import View
from catalogue.intake.archives import DAMAGED, NOT_OPENED, Road, open_archive
from catalogue.intake.containers import is_archive
from catalogue.intake.files import Unread, read_file
from catalogue.intake.hashing import BUFFER_BYTES, Ended
from catalogue.intake.walk import look
from catalogue.shapes.piece import INTO
from catalogue.shapes.progress import Progress
from catalogue.shapes.reading import Reading
from catalogue.store.found import MemberFound, PieceFound

MOST_FILES = 100_000
"""Files of one folder, with all that lies in its folders and archives."""


@dataclass(slots=True)
class Gathered(Bundle):
    """A bundle, and the readings of those members that were `wanted`, by their ways."""

    wanted: Collection[str] = ()
    readings: dict[str, Reading] = field(default_factory=dict)


def of_folder(folder: Path, progress: Progress, wanted: Collection[str] = ()) -> Gathered:
    """Every file below `folder`, and what archives among them hold, by the way from there.

    With `wanted`, only the files that these ways lead to or through, with their readings. Raises NotWorkable where the
    folder cannot be looked into or holds more than MOST_FILES, and what `progress` raises.
    """
    made = Gathered(wanted=wanted)
    outer = {way.split(INTO, 1)[0] for way in wanted}
    buffer = bytearray(BUFFER_BYTES)
    root = os.fsencode(folder)
    ahead = [b""]
    while ahead:
        inner = ahead.pop()
        found = look(os.path.join(root, inner) if inner else root)  # noqa: PTH118 (bytes)
        if found.failed:
            if not inner:
                raise NotWorkable(f"{folder} cannot be looked into: {found.failed}")
            made.held[os.fsdecode(inner)] = Held("", 0, "folder", found.failed)
            made.unread[os.fsdecode(inner + b"/")] = found.failed
        for name, _stamp in found.files:
            path = inner + b"/" + name if inner else name
            way = os.fsdecode(path)
            if wanted and way not in outer:
                continue
            if len(made.held) >= MOST_FILES:
                raise NotWorkable(f"{folder} holds more than {MOST_FILES} files; compare folders inside it.")
            progress.report(len(made.held), None, way)
            ended = _ended(progress, len(made.held), way)
            try:
                _read, piece = read_file(os.path.join(root, path), buffer, ended)  # noqa: PTH118 (bytes)
            except Unread as error:
                made.held[way] = Held("", 0, "opaque", str(error))
            except Ended as error:
                raise Stopped("Stopped. Nothing was changed.") from error
            else:
                _put(made, way, piece)
        for name, why in found.unreadable:
            made.held[os.fsdecode(inner + b"/" + name if inner else name)] = Held("", 0, "opaque", why)
        ahead += [inner + b"/" + name if inner else name for name in found.folders]
    return made


def of_archive(view: View, what: str, progress: Progress, wanted: Collection[str] = ()) -> Gathered | None:
    """The members of the archive in `view`, nested ones too; None where it is none.

    The readings of those at `wanted` ways are kept. Raises the view's OSError, and what `progress` raises.
    """
    reading = formats.known(view)
    if reading is None or not is_archive(reading):
        return None
    progress.report(0, None, what)
    try:
        members, why = open_archive(view, reading, Road(view.size, _ended(progress, 0, what)), what)
    except Ended as error:
        raise Stopped("Stopped. Nothing was changed.") from error
    made = Gathered(wanted=wanted)
    _unread(made, "", why, members)
    _members(made, "", members)
    return made


def _ended(progress: Progress, done: int, what: str) -> Callable[[], bool]:
    """Asked between chunks by those who read: whether a person asked to stop."""

    def ended() -> bool:
        try:
            progress.report(done, None, what)
        except Stopped:
            return True
        return False

    return ended


def _put(made: Gathered, way: str, piece: PieceFound) -> None:
    made.held[way] = Held(piece.sha256.hex(), piece.size, piece.reading.kind)
    if way in made.wanted:
        made.readings[way] = piece.reading
    _unread(made, f"{way}{INTO}", piece.archive_why, piece.members or ())
    if piece.members:
        _members(made, f"{way}{INTO}", piece.members)


def _unread(made: Gathered, before: str, why: str, members: Sequence[MemberFound]) -> None:
    """Note an archive that was not read to its end: it says so, or its last member breaks off."""
    if not why and members and members[-1].fault in (DAMAGED, NOT_OPENED):
        why = members[-1].why
    if why:
        made.unread[before] = why


def _members(made: Gathered, before: str, members: Iterable[MemberFound]) -> None:
    for way, one in _numbered(before, members):
        if one.piece is None:
            made.held[way] = Held("", one.size, "opaque", one.why or "It cannot be read.")
        else:
            _put(made, way, one.piece)


def _numbered(before: str, members: Iterable[MemberFound]) -> Iterator[tuple[str, MemberFound]]:
    """Each member with its way; those of one name are numbered."""
    seen: dict[str, int] = {}
    for one in members:
        count = seen[one.name] = seen.get(one.name, 0) + 1
        yield before + (one.name if count == 1 else f"{one.name} ({count})"), one
