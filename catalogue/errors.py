"""The two kinds of error that a person is told of; anything else that escapes is a bug."""

from __future__ import annotations


class KitproofError(Exception):
    """An error with one clear sentence for a person: it names the thing and says what to do."""


class NotWorkable(KitproofError):
    """The world does not allow it: the disk is full, the medium is gone, the catalogue is locked (exit 3)."""


class Stopped(NotWorkable):
    """A person stopped the work; what was finished is kept (exit 3)."""


class BadCall(KitproofError):
    """The call itself is wrong: an unknown family, no such path, a missing reason (exit 2)."""
