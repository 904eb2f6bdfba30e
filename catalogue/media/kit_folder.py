"""One kit's folder, looked at as it lies on a medium: its papers read, every file hashed, compared and told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from catalogue.media import disk, names83, sums
from catalogue.media.disk import NotPlain
from catalogue.media.medium import Differs, Folder, Listed, is_litter
from catalogue.media.plan import HALFWAY, KIT_JSON, PAPERS, SUMS
from catalogue.shapes import from_json
from catalogue.shapes.finding import Level
from catalogue.shapes.from_json import NotAKit
from catalogue.shapes.kit import Kit
from catalogue.shapes.results import FileState

MOST_FILE = (1 << 32) - 1
"""Bytes of a file that is still hashed: FAT holds no larger one."""
SAME, DIFFERS, MISSING, STRAY = "same", "differs", "missing", "stray"


@dataclass(frozen=True, slots=True)
class Looked:
    """A folder's facts and the state of each of its files; names as shown for the whole target."""

    folder: Folder
    states: tuple[FileState, ...]


@dataclass(frozen=True, slots=True)
class Papers:
    """A kit's papers as read: the kit, the sums, and what is wrong with either. `sums` is None without a list."""

    kit: Kit | None
    sums: Mapping[str, str] | None
    differs: tuple[Differs, ...]


def papers(path: Path) -> Papers:
    """KIT.JSN and SHA256.SUM of the folder at `path`. Raises OSError only where the medium itself fails."""
    differs: list[Differs] = []
    listed: Mapping[str, str] | None = None
    kit: Kit | None = None
    data = _paper(path, SUMS, sums.MAX_BYTES, differs)
    if data is not None:
        try:
            listed = sums.parse(data)
        except sums.NotSums as error:
            differs.append(Differs(SUMS, f"{SUMS} cannot be read: {error}.", have=str(error)))
    data = _paper(path, KIT_JSON, from_json.MAX_BYTES, differs)
    if data is not None:
        try:
            kit = from_json.kit_from_bytes(data)
        except NotAKit as error:
            differs.append(Differs(KIT_JSON, f"{KIT_JSON} cannot be read: {error}.", have=str(error)))
    return Papers(kit, listed, tuple(differs))


def _paper(path: Path, name: str, most: int, differs: list[Differs]) -> bytes | None:
    try:
        data = disk.small(path / name, most)
    except FileNotFoundError:
        if name == SUMS:
            half = " it was never finished, and" if (path / HALFWAY).exists() else ""
            differs.append(Differs(SUMS, f"There is no {SUMS}:{half} this folder is no kit.", "there", "missing"))
        else:
            differs.append(Differs(name, f"{name} is missing.", "there", "missing"))
        return None
    except NotPlain:
        differs.append(Differs(name, f"{name} is no plain file.", "a file", "a link or something else"))
        return None
    if data is None:
        differs.append(Differs(name, f"{name} is over {most} bytes.", f"at most {most}", "more"))
    return data


def total(path: Path, read: Papers) -> int:
    """Bytes that `look` will hash, as far as the folder says now."""
    count = 0
    for name in read.sums or ():
        try:
            count += (path / name).lstat().st_size
        except OSError:
            continue
    return count


def look(path: Path, shown: str, read: Papers, seen: Callable[[int, str], None]) -> Looked:
    """Every file of the kit's folder at `path` compared with its papers.

    `shown` stands before names; `seen(count, name)` is told of every stretch of bytes hashed. Raises OSError only
    where the folder itself cannot be listed.
    """
    entries, more = disk.listing(path)
    listed = _listed(read)
    sizes = {one.sha256: one.size for one in read.kit.pieces} if read.kit is not None else {}
    differs = list(read.differs)
    states = {one.name: MISSING if one.have == "missing" else DIFFERS for one in read.differs}
    for one in listed:
        wrong = _compared(path, one, sizes.get(one.sha256), seen)
        if wrong is None:
            states.setdefault(one.name, SAME)
        else:
            states[one.name] = MISSING if wrong.have == "missing" else DIFFERS
            if all(other.name != one.name for other in differs):
                differs.append(wrong)
    differs += _crossed(read)
    folder = Folder(shown, read.kit, listed, entries, tuple(differs), more=more)
    told = [FileState(folder.shown(name), state) for name, state in states.items()]
    told += [FileState(folder.shown(name), STRAY) for name in strays(folder)]
    return Looked(folder, tuple(told))


def strays(folder: Folder) -> tuple[str, ...]:
    """Names in a kit's folder that its papers do not know, in the order of the listing."""
    known = {names83.folded(one.name) for one in folder.listed} | {SUMS, *PAPERS}
    spelt = {one.name for one in folder.listed} | {SUMS, *PAPERS}
    here = {one.name for one in folder.entries}
    if folder.differs:
        known.add(HALFWAY)
    found = []
    for entry in folder.entries:
        there = names83.folded(entry.name) in known
        twin = entry.name not in spelt and any(
            names83.folded(name) == names83.folded(entry.name) for name in spelt & here
        )
        if (not there or twin) and not is_litter(entry):
            found.append(entry.name)
    return tuple(found)


def _listed(read: Papers) -> tuple[Listed, ...]:
    kinds = {one.sha256: one.kind for one in read.kit.pieces} if read.kit is not None else {}
    roles: dict[str, list[str]] = {}
    for choice in read.kit.roles if read.kit is not None else ():
        for sha256 in choice.pieces:
            roles.setdefault(sha256, []).append(choice.role)
    return tuple(
        Listed(name, sha256, *(("", ()) if name in PAPERS else (kinds.get(sha256, ""), tuple(roles.get(sha256, ())))))
        for name, sha256 in (read.sums or {}).items()
    )


def _compared(path: Path, one: Listed, size: int | None, seen: Callable[[int, str], None]) -> Differs | None:
    """What is wrong with one listed file, or None."""
    place = path / one.name
    try:
        there = place.lstat().st_size
        if size is not None and there != size:
            return Differs(one.name, f"{one.name} has another size.", f"{size} bytes", f"{there} bytes")
        if there > MOST_FILE:
            return Differs(
                one.name, f"{one.name} is larger than any file of a kit.", f"at most {MOST_FILE}", str(there)
            )
        have = disk.digest(place, there, lambda count: seen(count, one.name))
    except FileNotFoundError:
        return Differs(one.name, f"{one.name} is missing.", one.sha256, "missing")
    except NotPlain:
        return Differs(one.name, f"{one.name} is no plain file.", one.sha256, "a link or something else")
    except OSError as error:
        return Differs(one.name, f"{one.name} cannot be read: {error.strerror}.", one.sha256, str(error.strerror))
    if have == one.sha256:
        return None
    return Differs(one.name, f"{one.name} holds other bytes.", one.sha256, have or "its size changed while it was read")


def _crossed(read: Papers) -> list[Differs]:
    """Where KIT.JSN and SHA256.SUM do not tell of the same kit, or of one that may be used."""
    if read.kit is None or read.sums is None:
        return []
    found = [
        Differs(name, f"{SUMS} does not cover {name}.", "a line", "none") for name in PAPERS if name not in read.sums
    ]
    pieces = {one.sha256 for one in read.kit.pieces}
    chosen = {sha256 for choice in read.kit.roles for sha256 in choice.pieces}
    found += [
        Differs("", f"A piece of the kit is not in {SUMS}: {sha256}.", sha256, "no line")
        for sha256 in sorted((pieces | chosen) - set(read.sums.values()))
    ]
    found += [
        Differs(name, f"{SUMS} covers {name}, and the kit has no such piece.", "a piece of the kit", sha256)
        for name, sha256 in read.sums.items()
        if name not in PAPERS and sha256 not in chosen
    ]
    if read.kit.verdict != "ready" or any(one.level is Level.STOP for one in read.kit.findings):
        found.append(Differs(KIT_JSON, f"{KIT_JSON} holds a kit that was not ready.", "ready", read.kit.verdict))
    return found
