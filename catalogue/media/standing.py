"""What lies already where a kit's folder is to be: ours, whole or half-written, or somebody else's."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from catalogue.media import disk, kits_list, laying, names83, sums
from catalogue.media.disk import Entry, NotPlain
from catalogue.media.laying import ToLay
from catalogue.media.plan import HALFWAY, KIT_JSON, KITS, PAPERS, SUMS, Clash
from catalogue.shapes import from_json
from catalogue.shapes.from_json import NotAKit

_TEMPORARY = re.compile(rf"{laying.TEMPORARY}\d+\.TMP")


@dataclass(frozen=True, slots=True)
class Standing:
    """What is there. `same` names files that hold the right bytes already; `leftovers` ours that must go.

    `whole` says that everything is as it should be and nothing needs writing. `foreign` is what stands in the way.
    """

    exists: bool
    entries: tuple[Entry, ...] = ()
    same: frozenset[str] = frozenset()
    leftovers: tuple[str, ...] = ()
    whole: bool = False
    foreign: tuple[Clash, ...] = ()


@dataclass(frozen=True, slots=True)
class _Ours:
    """Why a folder is ours: our mark stands in it, or KIT.JSN names the kit; `owned` are SHA-256s by our own list."""

    marked: bool
    named: bool
    owned: Mapping[str, str] | None


def standing(target: Path, code: str, kit_id: str, files: tuple[ToLay, ...], papers: Mapping[str, bytes]) -> Standing:
    """How the folder `code` on `target` stands to the `files` that are wanted in it.

    `papers` are the bytes that SHA256.SUM and KITS.TXT would have. Raises OSError.
    """
    entries, _ = disk.listing(target)
    spelt = next((one for one in entries if names83.folded(one.name) == code), None)
    if spelt is None:
        return Standing(False)
    if spelt.kind != "folder" or (spelt.name != code and not (target / code).is_dir()):
        what = "a folder in another spelling" if spelt.kind == "folder" else f"a {spelt.kind}"
        return Standing(True, foreign=(Clash("", "", "", f"{what} of this name, and it is not ours"),))
    folder = target / code
    there, more = disk.listing(folder)
    if more:
        return Standing(True, there, foreign=(Clash("", "", "", "the folder holds more entries than any kit's"),))
    wanted = {one.name: one for one in files}
    ours = _ours(folder, kit_id, wanted)
    if not (ours.marked or ours.named):
        return Standing(True, there, foreign=_in_the_way(there, wanted))
    found = _of_ours(folder, there, wanted, ours)
    lists = _small(folder / SUMS, sums.MAX_BYTES), _small(target / KITS, kits_list.MAX_BYTES)
    as_it_should = lists == (papers[SUMS], papers[KITS]) and found.same == set(wanted)
    return replace(found, whole=as_it_should and not (ours.marked or found.foreign or found.leftovers))


def _ours(folder: Path, kit_id: str, wanted: Mapping[str, ToLay]) -> _Ours:
    """Whose folder it is. One that holds nothing but a mark of ours that was cut short counts as ours."""
    mark = _small(folder / HALFWAY, 4_096)
    marked = mark is not None and (
        laying.is_mark(mark, kit_id) or {one.name for one in disk.listing(folder)[0]} == {HALFWAY}
    )
    owned: Mapping[str, str] | None = None
    data = _small(folder / SUMS, sums.MAX_BYTES)
    if data is not None:
        with suppress(sums.NotSums):
            owned = sums.parse(data)
    return _Ours(marked, _names_the_kit(folder, kit_id, wanted, owned or {}), owned)


def _names_the_kit(folder: Path, kit_id: str, wanted: Mapping[str, ToLay], owned: Mapping[str, str]) -> bool:
    """Whether KIT.JSN says that it is this kit; where that cannot be read, whether our list covers its pieces."""
    data = _small(folder / KIT_JSON, from_json.MAX_BYTES)
    if data is not None:
        with suppress(NotAKit):
            return from_json.kit_from_bytes(data).id == kit_id
    pieces = {one.sha256 for name, one in wanted.items() if name not in PAPERS}
    return bool(pieces) and pieces <= set(owned.values())


def _of_ours(folder: Path, there: tuple[Entry, ...], wanted: Mapping[str, ToLay], ours: _Ours) -> Standing:
    """What of our own folder can stay, must go, or is somebody else's after all."""
    same: set[str] = set()
    leftovers: list[str] = []
    foreign: list[Clash] = []
    owned = ours.owned or {}
    spelt = {names83.folded(name): name for name in wanted}
    for entry in there:
        path = folder / entry.name
        name = spelt.get(names83.folded(entry.name))
        one = wanted.get(entry.name)
        if one is not None:
            if entry.kind != "file":
                foreign.append(Clash(entry.name, "", "", f"a {entry.kind} of this name, and it is not ours"))
            elif _digest(path, one.size) == one.sha256:
                same.add(entry.name)
            elif not (ours.marked or ours.owned is None or entry.name in owned):
                foreign.append(Clash(entry.name, "", "", "a file of this name, and it is not ours"))
        elif name is not None:
            if not _one_file(folder / name, path):
                foreign.append(Clash(entry.name, "", "", f"FAT cannot tell it from {name}, and it is not ours"))
            elif _digest(path, wanted[name].size) == wanted[name].sha256:
                same.add(name)
        elif entry.kind == "file" and _is_leftover(path, ours.marked, owned):
            leftovers.append(entry.name)
    return Standing(True, there, frozenset(same), tuple(leftovers), False, tuple(foreign))


def _is_leftover(path: Path, marked: bool, owned: Mapping[str, str]) -> bool:
    """Whether we wrote this file: a temporary one of a marked attempt, or a piece under a name it no longer has."""
    if marked and _TEMPORARY.fullmatch(path.name):
        return True
    return path.name in owned and _digest(path, None) == owned[path.name]


def _in_the_way(there: tuple[Entry, ...], wanted: Mapping[str, ToLay]) -> tuple[Clash, ...]:
    """What keeps us out of a folder that is not ours: every name that we would need there."""
    needed = {*map(names83.folded, wanted), SUMS, HALFWAY}
    return tuple(
        Clash(one.name, "", "", f"a {one.kind} of this name, and it is not ours")
        for one in there
        if names83.folded(one.name) in needed
    )


def list_in_the_way(target: Path, entries: tuple[Entry, ...]) -> tuple[Clash, ...]:
    """A KITS.TXT in the root that we did not write."""
    for one in entries:
        if names83.folded(one.name) != KITS:
            continue
        data = _small(target / one.name, kits_list.MAX_BYTES) if one.kind == "file" else None
        if data is None or (data and not kits_list.is_ours(data)):
            return (Clash(one.name, "", "", f"a {one.kind} of this name, and it is not ours"),)
    return ()


def _one_file(first: Path, second: Path) -> bool:
    try:
        return first.samefile(second)
    except OSError:
        return False


def _small(path: Path, most: int) -> bytes | None:
    try:
        return disk.small(path, most)
    except (FileNotFoundError, NotPlain):
        return None


def _digest(path: Path, size: int | None) -> str | None:
    """The file's SHA-256; None where it has another size or cannot be read, and so must be written again."""
    try:
        return disk.digest(path, size)
    except (OSError, NotPlain):
        return None
