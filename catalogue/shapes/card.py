"""What a saved listing tells of one card: the way it shows itself now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Said:
    """One value as a saved text gives it, and where: the file and its line (from 1)."""

    text: str
    file: str
    line: int

    @property
    def place(self) -> str:
        """File and line, for evidence."""
        return f"{self.file}:{self.line}"


@dataclass(frozen=True, slots=True)
class CardFacts:
    """One adapter of a saved text, read as its family says.

    `shown` are the vendors and devices it shows, each with the line; `mode` and `state` are those of the family they
    stand for, `subsystem` is theirs as "ssss:ssss" (None where the text tells neither, or several). `versions` are by
    role, where a role's pattern was found.
    `revision` is the board's, by the family's label; `pci_revision` the controller's, two hex digits (offset 08h of the
    configuration space).
    """

    file: str
    line: int
    slot: Said | None = None
    mode: str | None = None
    state: str | None = None
    shown: tuple[Said, ...] = ()
    subsystem: Said | None = None
    revision: Said | None = None
    versions: Mapping[str, Said] = field(default_factory=dict)
    pci_revision: Said | None = None
    identities: Mapping[str, Said] = field(default_factory=dict)
