"""Make the demo's folder on disk, and say what each thing in it is there for."""

from __future__ import annotations

import os
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from sample_bundles.item import Item
from sample_bundles.scene import scene


@dataclass(frozen=True, slots=True)
class MadePiece:
    """One thing that was made: the file it lies in, the names on the way into archives, and what it is for.

    `good`: a route's kit takes it for `roles`. `tempts`: the finding codes that must stop it when it is chosen.
    """

    path: Path
    inside: tuple[str, ...]
    sha256: str
    size: int
    family: str
    roles: tuple[str, ...]
    good: bool
    tempts: tuple[str, ...]
    what: str


@dataclass(frozen=True, slots=True)
class Made:
    """What `make` laid down. `written` counts files written now, `kept` those that lay there with the same bytes."""

    folder: Path
    pieces: tuple[MadePiece, ...]
    written: int
    kept: int

    def find(self, family: str, role: str, *, good: bool = True, tempts: str = "") -> MadePiece:
        """The first piece for a role of a family: a good one, or one with that temptation. LookupError if none."""
        for one in self.pieces:
            if one.family == family and role in one.roles and (one.tempts == () if good else tempts in one.tempts):
                if good and not one.good:
                    continue
                return one
        raise LookupError(f"nothing made for {family}, {role}")


def _same(path: Path, data: bytes) -> bool:
    return path.is_file() and not path.is_symlink() and path.stat().st_size == len(data) and path.read_bytes() == data


def _check(folder: Path, items: tuple[Item, ...]) -> list[Item]:
    """Those still to write. Raises FileExistsError where something else stands in the way."""
    missing = []
    for item in items:
        path = folder / item.name
        for above in [*path.relative_to(folder).parents][:-1]:
            if (folder / above).is_symlink() or ((folder / above).exists() and not (folder / above).is_dir()):
                raise FileExistsError(f"{folder / above} stands where the demo makes a folder")
        if not os.path.lexists(path):
            missing.append(item)
        elif not _same(path, item.data):
            raise FileExistsError(f"{path} is not a file of the demo, or was changed")
    return missing


def make(folder: Path) -> Made:
    """Lay the demo's downloads under `folder`, which may lie there from before.

    Nothing is ever overwritten: FileExistsError names what stands in the way, and then nothing has been written.
    Raises OSError where the disk does not allow it.
    """
    items = scene()
    missing = _check(folder, items)
    for item in missing:
        path = folder / item.name
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as file:
            file.write(item.data)
    return Made(folder, described(folder, items), len(missing), len(items) - len(missing))


def described(folder: Path, items: tuple[Item, ...]) -> tuple[MadePiece, ...]:
    """Every file and every member of the archives among `items`, as if they lay under `folder`."""
    pieces = []
    for item in items:
        for (top, *inside), one in item.walk():
            digest = sha256(one.data).hexdigest()
            pieces.append(MadePiece(folder / top, tuple(inside), digest, len(one.data), one.family, one.roles,
                                    one.good, one.tempts, one.what))
    return tuple(pieces)
