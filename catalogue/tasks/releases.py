"""Releases: what a maker's notes mention, and one that a person adds to a family file of their own."""

from __future__ import annotations

import hashlib
import tempfile
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.families.load import load_file
from catalogue.families.model import Family
from catalogue.families.release_edit import with_release
from catalogue.formats.release_notes import mentions
from catalogue.formats.view import BytesView
from catalogue.shapes.releases import AddedRelease, Mention, NewRelease
from catalogue.shapes.results import FileProblem
from catalogue.store import Store
from catalogue.tasks import known, settings
from catalogue.tasks.context import Context
from catalogue.tasks.hosts import put

MOST_NOTES = 4 << 20
"""Bytes of a notes text that is read."""


def mentioned(file: Path) -> list[Mention]:
    """The versions that a notes text mentions, each with the day near it. Raises BadCall where it cannot be read."""
    try:
        with file.open("rb") as stream:
            data = stream.read(MOST_NOTES + 1)
    except OSError as error:
        raise BadCall(f"The notes {file} cannot be read: {error.strerror or error}.") from error
    if len(data) > MOST_NOTES:
        raise BadCall(f"The notes {file} are longer than {MOST_NOTES >> 20} MiB.")
    found = mentions(BytesView(data))
    if found is None:
        raise BadCall(f"{file} is no plain text. Save the notes as text first.")
    return [
        Mention(
            one.version,
            one.offset,
            one.line,
            one.text,
            one.day.value if one.day is not None else "",
            (one.day.offset or 0) if one.day is not None else 0,
        )
        for one in found
    ]


def add(context: Context, family: str, new: NewRelease) -> AddedRelease:
    """Put a release into a family file; it is unsettled then until a person accepts it again.

    Nothing is written where the file would break a law by it: then the answer's `problems` say what, and at which line
    of the file as it would have been. Raises BadCall for a shipped family, a role or a name that does not do,
    NotWorkable where the file cannot be written.
    """
    with Store.open(context.catalogue) as store:
        of = known.named(context, store, family)
    _check(of, new)
    file = Path(of.file)
    try:
        before = file.read_bytes()
    except OSError as error:
        raise NotWorkable(f"The family file {file} cannot be read: {error.strerror or error}.") from error
    if hashlib.sha256(before).hexdigest() != of.sha256:
        raise BadCall(f"The family file {file} has changed this very moment; look at it and try again.")
    try:
        text, line = with_release(before.decode("utf-8"), of.lines, new, context.today)
    except ValueError as error:
        raise BadCall(f"The release cannot be put into {file}: {error}.") from error
    data = text.encode("utf-8")
    was = len(load_file(file, (settings.shipped_families(), *known.folders(context))).problems)
    problems = _problems(context, file, data)
    if len(problems) > was:
        return AddedRelease(str(file), problems=problems)
    try:
        put(file, data)
    except OSError as error:
        raise NotWorkable(f"The family file {file} cannot be written: {error.strerror or error}.") from error
    return AddedRelease(str(file), line, hashlib.sha256(data).hexdigest())


def _check(of: Family, new: NewRelease) -> None:
    if settings.is_shipped(Path(of.file)):
        raise BadCall(
            f"{of.id} is shipped with the program, so its file is left alone. Make a variant of it in "
            f'{settings.user_families()} (extends = "{of.id}") and add the release there.'
        )
    if not new.name.strip() or not new.versions:
        raise BadCall("A release needs a name, and the version of at least one role.")
    if any(one.name == new.name for one in of.releases):
        raise BadCall(f'{of.id} has a release "{new.name}" already; edit it by hand, or give this one another name.')
    for role in new.versions:
        if role not in of.roles:
            raise BadCall(f"{of.id} has no role {role}; it has {', '.join(of.roles)}.")


def _problems(context: Context, file: Path, data: bytes) -> tuple[FileProblem, ...]:
    """What would be wrong with the file, by its own name, where it lies."""
    with tempfile.TemporaryDirectory(prefix="kitproof-family-") as folder:
        trial = Path(folder) / file.name
        trial.write_bytes(data)
        found = load_file(trial, (file.parent, settings.shipped_families(), *known.folders(context))).problems
    return tuple(FileProblem(str(file), one.line, one.text) for one in found)
