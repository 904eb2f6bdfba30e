"""Host files: read one, keep one under its name, list those that are kept."""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.hosts.load import CPUS, LoadedHost, load_host, named_files
from catalogue.shapes.host import Host, Machine
from catalogue.shapes.results import HostInfo
from catalogue.tasks import settings

FILE = "host.toml"
MOST = 1_000
_UNUSUAL = re.compile(r"[^a-z0-9]+")
_CPU_NAMES = {number: name for name, number in CPUS.items()}


def load(name: str) -> Host:
    """The host of a file, or of a kept one by its name. Raises BadCall, naming file and line, where it is none."""
    path = Path(name)
    if not path.is_file():
        path = _kept(name) or path
    if not path.is_file():
        known = ", ".join(one.name for one in run()) or "none is kept yet"
        raise BadCall(f"There is no host file {name}, and no kept host of that name ({known}).")
    return _sound(path, load_host(path))


def _sound(path: Path, loaded: LoadedHost) -> Host:
    if loaded.host is None:
        first = loaded.problems[0]
        more = f" ({len(loaded.problems) - 1} more)" if len(loaded.problems) > 1 else ""
        raise BadCall(f"The host file {path} cannot be used: line {first.line}: {first.text}{more}.")
    return loaded.host


def run() -> list[HostInfo]:
    """The hosts that are kept, by name; one that is not sound any more stands there with its problems."""
    found = []
    for file in _files():
        loaded = load_host(file)
        if loaded.host is None:
            found.append(HostInfo(file.parent.name, str(file), problems=loaded.problems))
        else:
            bench, destination = told(loaded.host.bench), told(loaded.host.destination)
            found.append(HostInfo(loaded.host.name, str(file), bench, destination))
    return sorted(found, key=lambda one: (one.name.casefold(), one.file))


def told(machine: Machine) -> tuple[str, ...]:
    """What is told of a machine, in words."""
    said = []
    if machine.cpu is not None:
        said.append(f"CPU {_CPU_NAMES.get(machine.cpu, f'{machine.cpu:04X}h')}")
    if machine.boots is not None:
        said.append(f"starts by {' and '.join(sorted(machine.boots))}")
    if machine.secure_boot is not None:
        said.append(f"Secure Boot {'on' if machine.secure_boot else 'off'}")
    for name, keys in (("db", machine.db), ("dbx", machine.dbx), ("ESRT", machine.resources)):
        if keys is not None:
            said.append(f"{name} of {len(keys)} entr{'y' if len(keys) == 1 else 'ies'}")
    return tuple(said)


def keep(file: Path) -> HostInfo:
    """Keep a host file, and the files it names, in the user's own folder; one kept under the same name is replaced.

    Raises BadCall where it is not sound, NotWorkable where the folder cannot be written to.
    """
    host = load(str(file)) if file.is_file() else None
    if host is None:
        raise BadCall(f"There is no host file {file}.")
    folder = settings.user_hosts() / folder_name(host.name)
    other = next((one for one in run() if Path(one.file).parent == folder and one.name != host.name), None)
    if other is not None:
        raise BadCall(f'A host "{other.name}" is kept in {folder} already; give this one another name.')
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in named_files(file):
            if name != FILE:
                put(folder / name, (file.parent / name).read_bytes())
        put(folder / FILE, file.read_bytes())
    except OSError as error:
        raise NotWorkable(f"The host cannot be kept in {folder}: {error.strerror or error}.") from error
    return HostInfo(host.name, str(folder / FILE), told(host.bench), told(host.destination))


def put(path: Path, data: bytes) -> None:
    """Write a file whole or not at all."""
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".new-")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def _files() -> list[Path]:
    folder = settings.user_hosts()
    return sorted(folder.glob(f"*/{FILE}"))[:MOST] if folder.is_dir() else []


def _kept(name: str) -> Path | None:
    return next((Path(one.file) for one in run() if one.name.casefold() == name.casefold()), None)


def files_of(file: Path) -> tuple[str, ...]:
    """The names of the files that a kept host file names."""
    return named_files(file)


def folder_name(name: str) -> str:
    """The name of a folder for a host of that name."""
    return _UNUSUAL.sub("-", name.lower()).strip("-")[:60] or "host"
