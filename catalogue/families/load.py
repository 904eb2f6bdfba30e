"""Loading one family file: its values, every error in them, and the laws it breaks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from catalogue.families.differences import of_variant
from catalogue.families.extends import Find, NoBase, laid_over
from catalogue.families.laws import broken
from catalogue.families.limits import MAX_FILES
from catalogue.families.model import Family
from catalogue.families.node import Node, Report
from catalogue.families.read_family import bare_family, read_family
from catalogue.families.source import Source, read_source
from catalogue.shapes.results import FileProblem

MAX_KNOWN = 2_000
_known: dict[tuple[str, str, tuple[str, ...]], Loaded] = {}
"""Files already read, by name, content and the contents they stand on; their bytes are hashed anew each time."""


@dataclass(frozen=True, slots=True)
class Loaded:
    """One family file. `family` is None where not even an id could be read; its `settled` is False here.

    `sha256` is of the file's bytes, "" where it could not be opened. Sound is who has no problems.
    """

    file: str
    sha256: str
    family: Family | None
    problems: tuple[FileProblem, ...]


def load_file(path: Path, folders: Iterable[Path] = ()) -> Loaded:
    """Read one family file and prove its laws; never raises for what is in it.

    A variant's base is looked for beside it and in `folders`.
    """
    source = read_source(path)
    return load_source(source, lambda name: _find_base(name, source, (path.parent, *folders)))


def load_source(source: Source, find: Find) -> Loaded:
    """The family of one file that is already read; `find` gives the source of a variant's base."""
    if source.root is None:
        return _loaded(source, bare_family(source), source.problems)
    try:
        root, base = laid_over(source, source.root, find)
    except NoBase as why:
        node = (source.root.table or {})["extends"]
        return _loaded(source, bare_family(source), (FileProblem(node.file, node.line, f"extends {why}"),))
    key = (source.file, source.sha256, base)
    if key not in _known:
        if len(_known) >= MAX_KNOWN:
            _known.clear()
        _known[key] = _with_changes(_read(source, root, base), root, find)
    return _known[key]


def _read(source: Source, root: Node, base: tuple[str, ...]) -> Loaded:
    report = Report()
    family = read_family(source, root, base, report)
    problems = list(report.problems)
    if family is not None:
        problems += broken(family, frozenset(report.dirty))
    return _loaded(source, family, tuple(problems))


def _with_changes(loaded: Loaded, root: Node, find: Find) -> Loaded:
    """A variant with what it says otherwise than its base."""
    if loaded.family is None or loaded.family.extends is None:
        return loaded
    below = find(loaded.family.extends)
    assert below.root is not None, "a base that cannot be read is refused before"
    base, _digests = laid_over(below, below.root, find)
    return replace(loaded, family=replace(loaded.family, changes=of_variant(base, root)))


def misread(source: Source) -> tuple[FileProblem, ...]:
    """What is wrong with one file's values by themselves: no law is proved and no base looked for."""
    if source.root is None:
        return source.problems
    report = Report()
    read_family(source, source.root, (), report)
    return tuple(report.problems)


def _loaded(source: Source, family: Family | None, problems: tuple[FileProblem, ...]) -> Loaded:
    problems = tuple(sorted(set(problems), key=lambda one: (one.file != source.file, one.file, one.line, one.text)))
    if family is not None:
        family = replace(family, problems=problems)
    return Loaded(source.file, source.sha256, family, problems)


def files_of(folder: Path) -> tuple[list[Path], FileProblem | None]:
    """The family files of a folder (`*.toml`, not deeper), by name; with a problem where it cannot be looked into."""
    try:
        files = sorted(one for one in folder.iterdir() if one.suffix.lower() == ".toml" and one.is_file())
    except FileNotFoundError:
        return [], FileProblem(str(folder), 1, "there is no such folder of family files")
    except OSError as why:
        return [], FileProblem(str(folder), 1, f"cannot be looked into: {why.strerror or why}")
    if len(files) > MAX_FILES:
        wrong = FileProblem(str(folder), 1, f"holds more than {MAX_FILES} family files; the rest is left")
        return files[:MAX_FILES], wrong
    return files, None


def _find_base(name: str, source: Source, folders: Iterable[Path]) -> Source:
    found: dict[str, Source] = {}
    for folder in folders:
        for file in files_of(folder)[0]:
            if str(file) != source.file:
                one = read_source(file)
                if one.id == name:
                    found.setdefault(one.sha256, one)
    return only(name, list(found.values()))


def only(name: str, found: list[Source]) -> Source:
    """The one source of an id. Raises NoBase where there is none, or where two differ."""
    if not found:
        raise NoBase(f"names {name}, which is in none of the folders looked in")
    if len(found) > 1:
        raise NoBase(f"names {name}, which stands in two differing files: {found[0].file} and {found[1].file}")
    return found[0]
