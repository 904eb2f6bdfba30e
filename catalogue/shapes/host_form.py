"""A host file as a form shows it: each fact as it was told, or not known."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from catalogue.shapes.results import FileProblem


@dataclass(frozen=True, slots=True)
class MachineFacts:
    """One machine. `cpu` is the file's word for it, "" for not known; `boots` its ways to start, empty for not known.

    `db` and `dbx` are saved signature lists, `esrt` a saved table: files that lie anywhere, or already with the host.
    """

    cpu: str = ""
    boots: tuple[str, ...] = ()
    secure_boot: bool | None = None
    db: tuple[Path, ...] = ()
    dbx: tuple[Path, ...] = ()
    esrt: Path | None = None


@dataclass(frozen=True, slots=True)
class HostFacts:
    """A host file's facts. `problems` are what is wrong with the file; what could not be read is then not known.

    `editable` is False where the file is no TOML at all, so that a form would write over what a person wrote.
    """

    name: str = ""
    as_of: date | None = None
    bench: MachineFacts = field(default_factory=MachineFacts)
    destination: MachineFacts = field(default_factory=MachineFacts)
    file: str = ""
    problems: tuple[FileProblem, ...] = ()
    editable: bool = True


@dataclass(frozen=True, slots=True)
class SavedFile:
    """What a chosen file holds. `why` says why it cannot be used, "" where it can.

    `subjects` are whom its certificates name, `digests` how many digests it has; of an ESRT `resources` counts entries.
    """

    file: Path
    why: str = ""
    subjects: tuple[str, ...] = ()
    digests: int = 0
    resources: int = 0
