"""The database's own errors, turned into one clear sentence each."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from catalogue.errors import NotWorkable

_SAYS = (
    (
        "locked",
        "The catalogue {name} is in use by another program that is writing to it. Wait until it is done and try again.",
    ),
    (
        "readonly",
        "The catalogue {name} cannot be written to: it, or its folder, is read-only. "
        "Choose another with --catalogue, or change its permissions.",
    ),
    (
        "malformed",
        "The catalogue {name} is damaged. Move it aside and index your folders again; your files are untouched.",
    ),
    ("not a database", "{name} is not a catalogue. Name another file with --catalogue; this one was not touched."),
    ("full", "There is no space left where the catalogue {name} lies. Free some and try again; nothing is lost."),
    ("unable to open", "The catalogue {name} cannot be opened: its folder is missing, or may not be written to."),
    ("disk i/o", "The disk that holds the catalogue {name} fails while it is read or written. Check the disk."),
)


def sentence(error: Exception, name: str) -> str:
    """What to tell a person of a database's error."""
    raw = str(getattr(error, "orig", None) or error)
    low = raw.lower()
    for mark, says in _SAYS:
        if mark in low:
            return says.format(name=name)
    return f"The catalogue {name} cannot be used: {raw.splitlines()[0] if raw else type(error).__name__}."


@contextmanager
def told(name: str) -> Iterator[None]:
    """Turn a database error raised inside into NotWorkable."""
    try:
        yield
    except DBAPIError as error:
        if error.connection_invalidated or _is_world(error):
            raise NotWorkable(sentence(error, name)) from error
        raise


def _is_world(error: DBAPIError) -> bool:
    """Whether the world is at fault; a wrong statement or a broken constraint is a bug of ours and passes."""
    low = str(error.orig).lower()
    return any(mark in low for mark, _says in _SAYS) or type(error.orig).__name__ == "InterfaceError"
