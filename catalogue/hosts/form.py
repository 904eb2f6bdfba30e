"""A host file's facts for a form, and the file's text with other facts: comments, order and spelling stay.

Reading for the form is lenient where loading is strict: a value of the wrong type is not known here, and the loader's
problems stand beside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from pathlib import Path

from catalogue.families.source import read_source
from catalogue.hosts.load import CPUS, SCHEMA, load_host
from catalogue.shapes.host import LEGACY, UEFI
from catalogue.shapes.host_form import HostFacts, MachineFacts

_WAYS = (LEGACY, UEFI)


def facts_of(path: Path) -> HostFacts:
    """The facts of a host file, as far as they can be read."""
    problems = load_host(path).problems
    root = read_source(path).root
    if root is None:
        return HostFacts(file=str(path), problems=problems, editable=False)
    said = {key: node.value for key, node in (root.table or {}).items()}
    machines = {
        key: _machine(path.parent, {name: _plain(one) for name, one in (node.table or {}).items()})
        for key, node in (root.table or {}).items()
        if key in ("bench", "destination")
    }
    name, day = said.get("name"), said.get("as_of")
    return HostFacts(
        name=name if isinstance(name, str) else "",
        as_of=day if isinstance(day, date) and not isinstance(day, datetime) else None,
        bench=machines.get("bench", MachineFacts()),
        destination=machines.get("destination", MachineFacts()),
        file=str(path),
        problems=problems,
    )


def _plain(node: object) -> object:
    held = getattr(node, "list", None)
    return [one.value for one in held] if held is not None else getattr(node, "value", None)


def _machine(folder: Path, said: Mapping[str, object]) -> MachineFacts:
    cpu, secure, esrt = said.get("cpu"), said.get("secure_boot"), said.get("esrt")
    boots = said.get("boots")
    return MachineFacts(
        cpu=cpu if isinstance(cpu, str) and cpu in CPUS else "",
        boots=tuple(one for one in _WAYS if isinstance(boots, list) and one in boots),
        secure_boot=secure if isinstance(secure, bool) else None,
        db=tuple(_files(folder, said.get("db"))),
        dbx=tuple(_files(folder, said.get("dbx"))),
        esrt=folder / esrt if isinstance(esrt, str) and esrt else None,
    )


def _files(folder: Path, names: object) -> Iterable[Path]:
    return [folder / one for one in names if isinstance(one, str) and one] if isinstance(names, list) else []


def written(facts: HostFacts, names: Mapping[Path, str], text: str = "") -> str:
    """The host file with these facts; `names` gives each file's name beside it, `text` is the file as it was.

    Raises ValueError where `text` is no TOML.
    """
    import tomlkit

    document = tomlkit.parse(text)
    if "schema" not in document:
        document["schema"] = SCHEMA
    _put(document, "name", facts.name)
    _put(document, "as_of", facts.as_of)
    for key, machine in (("bench", facts.bench), ("destination", facts.destination)):
        values: dict[str, object] = {
            "cpu": machine.cpu or None,
            "boots": list(machine.boots) or None,
            "secure_boot": machine.secure_boot,
            "db": [names[one] for one in machine.db] or None,
            "dbx": [names[one] for one in machine.dbx] or None,
            "esrt": names[machine.esrt] if machine.esrt is not None else None,
        }
        if not isinstance(document.get(key), dict):
            document.pop(key, None)
            if all(value is None for value in values.values()):
                continue
            document[key] = tomlkit.table()
        for name, value in values.items():
            _put(document[key], name, value)
    return tomlkit.dumps(document)


def _put(table: object, key: str, value: object) -> None:
    """Set a value, take it out where it is None, and leave one that is the same already as it is spelt."""
    assert isinstance(table, dict)
    if value is None:
        table.pop(key, None)
    elif table.get(key) != value:
        table[key] = value
