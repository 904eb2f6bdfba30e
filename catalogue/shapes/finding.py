"""Findings: one thing wrong or worth knowing, which cannot be built without evidence and a remedy."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """How much a finding weighs."""

    STOP = "stop"
    CAUTION = "caution"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Evidence:
    """What shows a finding: a place, the field or line in it, and what was wanted and what is there."""

    place: str
    field: str = ""
    offset: int | None = None
    length: int | None = None
    want: str = ""
    have: str = ""


@dataclass(frozen=True, slots=True)
class ClearedBy:
    """Who cleared a finding, and why."""

    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong or worth knowing.

    `clearable` says that a person's word may clear it (the contract's small `s`); once cleared, `level` is caution
    and `cleared_by` says by whom. `piece` is a SHA-256.

    Raises ValueError without evidence or without a remedy.
    """

    code: str
    level: Level
    text: str
    evidence: tuple[Evidence, ...]
    remedy: str
    clearable: bool = False
    cleared_by: ClearedBy | None = None
    role: str | None = None
    piece: str | None = None

    def __post_init__(self) -> None:
        if not self.evidence:
            raise ValueError(f"{self.code}: a finding needs evidence")
        if not self.remedy.strip():
            raise ValueError(f"{self.code}: a finding needs a remedy")
