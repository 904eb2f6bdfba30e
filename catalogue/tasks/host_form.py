"""The host form: what a kept host file tells, what a chosen file holds, and keeping the file with other facts."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.hosts.esrt import resources_of
from catalogue.hosts.form import facts_of, written
from catalogue.hosts.load import CPUS, MOST_BYTES, load_host
from catalogue.hosts.saved_keys import keys_of
from catalogue.shapes.host_form import HostFacts, MachineFacts, SavedFile
from catalogue.shapes.results import FileProblem
from catalogue.tasks import hosts, settings

CPU_NAMES = tuple(CPUS)
"""The words for processors, as a host file has them."""
_UNUSUAL = re.compile(r"[^A-Za-z0-9._-]+")
_MOST_NAME = 60


def facts(file: str) -> HostFacts:
    """The facts of a kept host file."""
    return facts_of(Path(file))


def looked_at(file: Path, *, esrt: bool) -> SavedFile:
    """What a saved signature list (or, with `esrt`, a saved table) holds; never raises for what is in it."""
    try:
        with file.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        return SavedFile(file, f"it cannot be read: {error.strerror or error}")
    if len(data) > MOST_BYTES:
        return SavedFile(file, f"it is larger than {MOST_BYTES >> 20} MiB")
    if esrt:
        found, why = resources_of(data, str(file))
        return SavedFile(file, why, resources=len(found))
    keys, why = keys_of(data, str(file))
    subjects = dict.fromkeys(one.name for one in keys if one.kind == "certificate")
    return SavedFile(file, why, tuple(subjects), sum(one.kind != "certificate" for one in keys))


def save(told: HostFacts) -> HostFacts:
    """Keep the host file with these facts, with every file it names; `told.file` is the kept file that is edited.

    The answer is the file as it is kept. Where it would not be sound, nothing is kept, and the answer's `problems` say
    what is wrong, each with the line of the file as it would have been.

    Raises BadCall for a name that another kept host has, NotWorkable where the folder cannot be written to.
    """
    if not told.name.strip():
        return _wrong(told, "name is missing: give the machines a name to choose them by")
    old = Path(told.file) if told.file else None
    for one in hosts.run():
        if one.name.casefold() == told.name.casefold() and (old is None or Path(one.file) != old):
            raise BadCall(f'A host "{one.name}" is kept already; give this one another name.')
    folder = old.parent if old is not None else _free(settings.user_hosts() / hosts.folder_name(told.name))
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix="kitproof-host-") as trial:
            return _save(told, old, folder, Path(trial))
    except OSError as error:
        raise NotWorkable(f"The host cannot be kept in {folder}: {error.strerror or error}.") from error


def _save(told: HostFacts, old: Path | None, folder: Path, trial: Path) -> HostFacts:
    """Make the host in a folder for trial, prove it, and only then put it in its place."""
    names: dict[Path, str] = {}
    for file in _files(told):
        held = looked_at(file, esrt=file in (told.bench.esrt, told.destination.esrt))
        if held.why:
            return _wrong(told, f"{file}: {held.why}")
        names[file] = _name(file, set(names.values()))
        shutil.copyfile(file, trial / names[file])
    before = old.read_bytes().decode("utf-8-sig", "replace") if old is not None else ""
    if old is not None and not facts_of(old).editable:
        return _wrong(told, "the kept file is no TOML any more: mend it by hand first")
    text = written(told, names, before)
    (trial / hosts.FILE).write_text(text, encoding="utf-8", newline="")
    loaded = load_host(trial / hosts.FILE)
    if loaded.host is None:
        problems = tuple(FileProblem(hosts.FILE, one.line, one.text) for one in loaded.problems)
        return HostFacts(told.name, told.as_of, told.bench, told.destination, told.file, problems)
    was = set(hosts.files_of(old)) if old is not None else set()
    folder.mkdir(exist_ok=True)
    for name in (*names.values(), hosts.FILE):
        hosts.put(folder / name, (trial / name).read_bytes())
    for name in was - set(names.values()) - {hosts.FILE}:
        (folder / name).unlink(missing_ok=True)
    return facts_of(folder / hosts.FILE)


def _wrong(told: HostFacts, text: str) -> HostFacts:
    return HostFacts(
        told.name, told.as_of, told.bench, told.destination, told.file, (FileProblem(hosts.FILE, 1, text),)
    )


def _files(told: HostFacts) -> Iterator[Path]:
    """Every file that is named, each once."""
    seen: dict[Path, None] = {}
    for one in (told.bench, told.destination):
        seen.update(dict.fromkeys(_of_machine(one)))
    yield from seen


def _of_machine(one: MachineFacts) -> tuple[Path, ...]:
    return (*one.db, *one.dbx, *((one.esrt,) if one.esrt is not None else ()))


def _name(file: Path, taken: set[str]) -> str:
    """A plain name that no other file of the host has, in any case of letters."""
    plain = Path(_UNUSUAL.sub("-", file.name).strip("-.") or "list")
    stem, end = plain.stem, plain.suffix
    low = {one.lower() for one in (*taken, hosts.FILE)}
    for number in range(1, 1_000):
        name = f"{stem[:_MOST_NAME]}{'' if number == 1 else f'-{number}'}{end[:12]}"
        if name.lower() not in low:
            return name
    raise BadCall(f"{file}: too many files of that name.")


def _free(folder: Path) -> Path:
    """A folder of that name that is not there yet."""
    for number in range(1, 1_000):
        one = folder if number == 1 else folder.with_name(f"{folder.name}-{number}")
        if not one.exists():
            return one
    raise BadCall(f"{folder}: too many hosts of that name.")
