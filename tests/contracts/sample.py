"""One sample of a format."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Sample:
    """`data` is a piece of `kind`, read by the row called `reader`; `what` says in a few words what it shows."""

    reader: str
    what: str
    kind: str
    data: bytes

    def __str__(self) -> str:
        return f"{self.reader}: {self.what}"
