"""How long work says where it is, and how it is stopped."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Handed to long work. `report` may be called from one thread only, often; receivers thin it out themselves.

    `report` raises `catalogue.errors.Stopped` once a person asked to stop: the work tidies up and lets it pass.
    `total` is None while it is not yet known. `what` is what the work is at, for a person.
    """

    def report(self, done: int, total: int | None, what: str) -> None:
        """Say how far the work is; raise Stopped if it should end."""


class Quiet:
    """A progress nobody looks at."""

    def report(self, done: int, total: int | None, what: str) -> None:
        """Say nothing."""
