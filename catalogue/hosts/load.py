"""Reading a host file: TOML, strict, every error with its line; what it names lies beside it.

```toml
schema = 1
name = "Rack nine"
as_of = 2026-05-02

[bench]                      # the machine that runs the utility
cpu = "x86-64"
boots = ["legacy", "uefi"]   # the ways it can start
secure_boot = false

[destination]                # the machine the card will serve in; the same keys
cpu = "x86-64"
boots = ["uefi"]
secure_boot = true
db = ["db.esl"]              # saved EFI signature lists; files beside this one
dbx = ["dbx.esl"]
esrt = "esrt.bin"            # a saved ESRT, the binary table or the text of its entries
```

Every key but `schema` and `name` may be left out: what is not told is not known, and is never guessed.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from catalogue.families.cursor import Table
from catalogue.families.node import Report
from catalogue.families.source import read_source
from catalogue.hosts.esrt import resources_of
from catalogue.hosts.saved_keys import keys_of
from catalogue.shapes.host import LEGACY, UEFI, Host, Machine, Resource, SecureBootKey
from catalogue.shapes.results import FileProblem

_T = TypeVar("_T")
SCHEMA = 1
CPUS = {
    "ia32": 0x014C,
    "arm": 0x01C2,
    "x86-64": 0x8664,
    "aarch64": 0xAA64,
    "riscv64": 0x5064,
    "loongarch64": 0x6264,
}
"""PE Format, "Machine Types"; UEFI Specification 3.5.1.1 names the processors so."""
MOST_BYTES = 4 << 20
"""Bytes of one file that a host file names."""
_NAME = re.compile(r"[^/\\:\x00-\x1f]{1,120}")


@dataclass(frozen=True, slots=True)
class LoadedHost:
    """A host file as read. `host` is None where anything is wrong with it; `problems` then say what."""

    host: Host | None
    problems: tuple[FileProblem, ...] = ()


class _Reading:
    """One host file being read, with the digests of all that it names."""

    def __init__(self, path: Path, report: Report) -> None:
        self.path = path
        self.report = report
        self.digests: list[str] = []

    def machine(self, table: Table | None) -> Machine:
        if table is None:
            return Machine()
        cpu = table.choice("cpu", CPUS)
        boots = table.choices("boots", (LEGACY, UEFI))
        if "boots" in table and not boots:
            table.wrong("boots", "needs at least one way to start")
        secure_boot = table.flag("secure_boot")
        if secure_boot and boots and UEFI not in boots:
            table.wrong("secure_boot", "is on, but the machine does not start by UEFI")
        machine = Machine(
            cpu=CPUS[cpu] if cpu else None,
            boots=frozenset(boots) if boots else None,
            secure_boot=secure_boot,
            db=self._keys(table, "db"),
            dbx=self._keys(table, "dbx"),
            resources=self._resources(table),
            lines=tuple((key, node.line) for key, node in table.items.items()),
        )
        table.done()
        return machine

    def _keys(self, table: Table, key: str) -> tuple[SecureBootKey, ...] | None:
        names = table.texts(key, form=_NAME, means=_MEANS, least=1)
        if key not in table:
            return None
        return tuple(one for name in names for one in self._file(table, key, name, keys_of))

    def _resources(self, table: Table) -> tuple[Resource, ...] | None:
        name = table.text("esrt", form=_NAME, means=_MEANS)
        return None if name is None else self._file(table, "esrt", name, resources_of)

    def _file(
        self, table: Table, key: str, name: str, read: Callable[[bytes, str], tuple[tuple[_T, ...], str]]
    ) -> tuple[_T, ...]:
        file = self.path.parent / name
        try:
            if name in (".", ".."):
                raise IsADirectoryError(21, "Is a directory")
            with file.open("rb") as stream:
                data = stream.read(MOST_BYTES + 1)
        except OSError as error:
            table.wrong(key, f"names {name}, which cannot be read: {error.strerror or error}")
            return ()
        if len(data) > MOST_BYTES:
            table.wrong(key, f"names {name}, which is larger than {MOST_BYTES} bytes")
            return ()
        found, why = read(data, str(file))
        if why:
            table.wrong(key, f"names {name}, which cannot be used: {why}")
        self.digests.append(f"{key} {hashlib.sha256(data).hexdigest()}")
        return found


_MEANS = "the name of a file beside this one"


def load_host(path: Path) -> LoadedHost:
    """Read one host file; never raises for what is in it, nor for a file that cannot be opened."""
    source = read_source(path)
    if source.root is None:
        return LoadedHost(None, source.problems)
    report = Report()
    table = Table(source.root, "", report)
    schema = table.integer("schema", 0, 1_000, required=True)
    if schema is not None and schema != SCHEMA:
        table.wrong("schema", f"is {schema}; this program reads {SCHEMA}")
    name = table.text("name", required=True)
    as_of = table.day("as_of")
    reading = _Reading(path, report)
    bench, destination = (reading.machine(table.sub(key)) for key in ("bench", "destination"))
    table.done()
    if report.problems or name is None:
        return LoadedHost(None, tuple(report.problems))
    digest = hashlib.sha256("\n".join((source.sha256, *reading.digests)).encode()).hexdigest()
    return LoadedHost(Host(name, str(path), digest, as_of, bench, destination))


def named_files(path: Path) -> tuple[str, ...]:
    """The files beside a sound host file that it names."""
    root = read_source(path).root
    found: dict[str, None] = {}
    for key in ("bench", "destination"):
        part = (root.table or {}).get(key) if root is not None else None
        facts = (part.table or {}) if part is not None else {}
        for fact in ("db", "dbx", "esrt"):
            node = facts.get(fact)
            held = (node.list or [node]) if node is not None else []
            found.update((str(one.value), None) for one in held)
    return tuple(found)
