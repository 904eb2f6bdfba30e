"""What every task is told: which catalogue, which further family folders, what day it is."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path


def today_utc() -> date:
    """The day by UTC."""
    return datetime.now(UTC).date()


@dataclass(frozen=True, slots=True)
class Context:
    """`catalogue` is a path or a database URL, None for the user's data folder; `family_folders` add to ours."""

    catalogue: str | None = None
    family_folders: tuple[Path, ...] = ()
    today: date = field(default_factory=today_utc)
