"""All family files of all folders together: which families there are, and which of them are settled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from catalogue.families.load import Loaded, files_of, load_source, only
from catalogue.families.model import Family
from catalogue.families.read_family import same_id
from catalogue.families.source import Source, read_source
from catalogue.families.spoken_of import Asked, speaking
from catalogue.families.where import place
from catalogue.shapes.results import FileProblem


@dataclass(frozen=True, slots=True)
class Library:
    """The families by id, sorted, and every problem of every file and folder.

    A family that is not settled stands here too, with its `problems`. A file of which no id could be read has problems
    only.
    """

    families: Mapping[str, Family] = field(default_factory=dict)
    problems: tuple[FileProblem, ...] = ()


def load(
    folders: Sequence[Path], shipped: Path, accepted: Mapping[str, frozenset[str]], about: Asked | None = None
) -> Library:
    """Load the shipped family files and those of `folders`; none ranks above another.

    With `about`, only the families that it asks after, and all that they stand on or that stands in their way: each is
    the same, settled or not, as if all were loaded. Others may be among them, and the problems are of these files only.

    A family is settled when nothing is wrong with it, and it is shipped or its file's SHA-256 is accepted for its id;
    a variant also needs its base settled. One id in two differing files leaves both unsettled; identical files count as
    one. A broken file, or a missing folder, spoils only itself.
    """
    problems: list[FileProblem] = []
    by_id: dict[str, dict[str, Source]] = {}
    ours: set[str] = set()
    for folder, file in _files(folders, shipped, problems, about):
        source = read_source(file)
        if folder == shipped:
            ours.add(source.sha256)
        if source.id is None:
            problems += load_source(source, _nothing_below).problems
        else:
            by_id.setdefault(source.id, {}).setdefault(source.sha256, source)
    return _settle(by_id, ours, accepted, problems)


def _files(
    folders: Sequence[Path], shipped: Path, problems: list[FileProblem], about: Asked | None
) -> Sequence[tuple[Path, Path]]:
    """Each file once, behind the folder it was found in; with `about`, those alone that it needs."""
    found: dict[Path, tuple[Path, Path]] = {}
    for folder in (shipped, *folders):
        files, wrong = files_of(folder)
        if wrong:
            problems.append(wrong)
        real = folder.resolve()
        for file in files:
            found.setdefault(file.resolve() if file.is_symlink() else real / file.name, (folder, file))
    if about is None:
        return list(found.values())
    wanted = speaking([file for _folder, file in found.values()], about)
    return [(folder, file) for folder, file in found.values() if file in wanted]


def _nothing_below(name: str) -> Source:
    return only(name, [])


def _settle(
    by_id: Mapping[str, Mapping[str, Source]],
    ours: set[str],
    accepted: Mapping[str, frozenset[str]],
    problems: list[FileProblem],
) -> Library:
    def find(base: str) -> Source:
        return only(base, list(by_id.get(base, {}).values()))

    loaded: dict[str, Loaded] = {}
    for name, sources in by_id.items():
        both = [load_source(one, find) for one in sources.values()]
        first = both[0]
        if len(both) > 1:
            clashes = _clashes(list(sources.values()), both)
            first = replace(first, problems=tuple(one for each in both for one in each.problems) + clashes)
        problems += first.problems
        loaded[name] = first
    families: dict[str, Family] = {}
    for name in sorted(loaded):
        one = loaded[name]
        if one.family is not None:
            settled = _settled(name, loaded, ours, accepted)
            families[name] = replace(one.family, problems=one.problems, settled=settled)
    return Library(families, tuple(dict.fromkeys(problems)))


def _clashes(sources: list[Source], both: list[Loaded]) -> tuple[FileProblem, ...]:
    """One problem for each of several differing files with one id, at the line of the id."""
    out = []
    for number, (source, one) in enumerate(zip(sources, both, strict=True)):
        other = sources[0] if number else sources[1]
        file, line = place(one.family, "id") if one.family else (source.file, 1)
        out.append(FileProblem(file, line, same_id(source, other)))
    return tuple(out)


def _settled(
    name: str, loaded: Mapping[str, Loaded], ours: set[str], accepted: Mapping[str, frozenset[str]]
) -> bool:
    """Whether a family and all it stands on are sound, and shipped or accepted (a ring is a problem, so this ends)."""
    one = loaded.get(name)
    if one is None or one.family is None or one.problems:
        return False
    if one.sha256 not in ours and one.sha256 not in accepted.get(name, frozenset()):
        return False
    below = one.family.extends
    return below is None or _settled(below, loaded, ours, accepted)
