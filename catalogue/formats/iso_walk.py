"""One tree of folders of an ISO 9660 image, each folder once."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from catalogue.formats.disk_files import DiskFile, Extent, joined
from catalogue.formats.iso_record import (
    ASSOCIATED,
    FOLDER,
    MORE,
    PARENT,
    SELF,
    Added,
    Record,
    added,
    records,
    skip_of,
)
from catalogue.formats.iso_volume import JOLIET, Tree
from catalogue.formats.limits import MAX_DISK_DEPTH, MAX_FOLDER_BYTES, MAX_FOLDERS_BYTES, MAX_MEMBERS
from catalogue.formats.view import View

_FOREVER = 1 << 16
"""Records of one file in several sections."""


@dataclass(slots=True)
class Walked:
    """The files of one tree. `faults` and `odd` are texts with offsets; `left` bytes of folders may still be read."""

    files: list[DiskFile] = field(default_factory=list)
    folders: list[Extent] = field(default_factory=list)
    faults: list[tuple[str, int]] = field(default_factory=list)
    odd: list[tuple[str, int]] = field(default_factory=list)
    rock_ridge: bool = False
    associated: int = 0
    left: int = 0
    full: bool = False


def walk(view: View, tree: Tree) -> Walked:
    """All files of a tree. Raises nothing but the view's own OSError."""
    made = Walked(left=MAX_FOLDERS_BYTES)
    first = next(records(view.at(tree.root, min(tree.length, 255)), tree.root), None)
    skip = skip_of(first) if first is not None and tree.kind != JOLIET else None
    made.rock_ridge = skip is not None
    if first is None or first.name != SELF:
        made.faults.append((f"The root folder of its {tree.kind} tree is not where it should be.", tree.listed_at))
    _Walk(view, tree, skip, made).walk()
    return made


class _Walk:
    def __init__(self, view: View, tree: Tree, skip: int | None, made: Walked) -> None:
        self.view, self.tree, self.skip, self.made = view, tree, skip, made
        self._seen = {tree.root}
        self._ahead: list[tuple[str, int, int, int]] = [("", tree.root, tree.length, 0)]

    def walk(self) -> None:
        while self._ahead and not self.made.full:
            self._folder(*self._ahead.pop())

    def _folder(self, path: str, offset: int, length: int, depth: int) -> None:
        made = self.made
        most = min(length, MAX_FOLDER_BYTES, made.left)
        data = self.view.at(offset, most)
        made.left -= len(data)
        made.folders.append((offset, len(data)))
        name = path or "its root folder"
        if len(data) < length:
            why = "runs past the end of the image" if len(data) < most else "is longer than can be read"
            made.faults.append((f"Folder {name[:200]!r} {why}.", min(offset, self.view.size)))
        if made.left <= 0:
            made.full = True
            made.faults.append((f"Its folders hold more than {MAX_FOLDERS_BYTES >> 20} MiB; the rest was not read.", 0))
        ahead: list[tuple[str, int, int, int]] = []
        sections: list[Record] = []
        for one in records(data, offset):
            if not one.name:
                made.faults.append((f"A record of folder {name[:200]!r} is damaged.", one.at))
                sections = []
                continue
            if one.name in (SELF, PARENT) and one.flags & FOLDER:
                continue
            if one.flags & ASSOCIATED:
                made.associated += 1
                continue
            if not one.agrees and len(made.odd) < MAX_DISK_DEPTH:
                made.odd.append(("Numbers of directory records differ between their two byte orders.", one.at))
            if sections and sections[0].name != one.name:
                sections = []
            sections.append(one)
            if one.flags & MORE and len(sections) < _FOREVER:
                continue
            self._entry(path, sections, depth, ahead)
            sections = []
            if len(made.files) >= MAX_MEMBERS + 1:
                made.full = True
                break
        self._ahead += reversed(ahead)

    def _entry(self, path: str, sections: list[Record], depth: int, ahead: list[tuple[str, int, int, int]]) -> None:
        one = sections[-1]
        more = added(self.view, one, self.skip, self.tree.block) if self.skip is not None else Added()
        if more.moved:
            return
        own = _identifier(one.name, self.tree.kind)
        name = more.name.decode("utf-8", "surrogateescape") if more.name is not None else own
        unsafe = "has a slash in its name" if "/" in name else ""
        short = own if name != own else ""
        folder = bool(one.flags & FOLDER) or more.child is not None
        made = DiskFile(path + name + ("/" if folder else ""), 0, (), folder, short, one.at, more.fault, unsafe)
        if folder:
            self.made.files.append(self._down(made, one, more, depth, ahead))
            return
        block = self.tree.block
        extents = joined((part.start * block, part.length) for part in sections)
        size = sum(part.length for part in sections)
        fault = more.fault or (
            "is interleaved, which is not read" if any(part.interleaved for part in sections) else ""
        )
        self.made.files.append(replace(made, size=size, extents=() if fault else extents, fault=fault))

    def _down(
        self, made: DiskFile, one: Record, more: Added, depth: int, ahead: list[tuple[str, int, int, int]]
    ) -> DiskFile:
        """The folder's entry, which is put on the list of those to be read unless something speaks against it."""
        block = self.tree.block
        offset, length = one.start * block, one.length
        if more.child is not None:
            # RRIP 4.1.5.1: the folder lies elsewhere; its own first record tells its length.
            offset = more.child * block
            first = next(records(self.view.at(offset, 255), offset), None)
            length = first.length if first is not None and first.name == SELF else 0
        if offset in self._seen:
            return replace(made, fault="is a folder that leads back to one that is listed already")
        if depth + 1 >= MAX_DISK_DEPTH:
            return replace(made, fault=f"is a folder more than {MAX_DISK_DEPTH} folders deep, which was not read")
        self._seen.add(offset)
        ahead.append((made.name, offset, length, depth + 1))
        return made


def _identifier(raw: bytes, kind: str) -> str:
    """A file identifier without its version number (7.5.1)."""
    if kind == JOLIET:
        name = raw[: len(raw) // 2 * 2].decode("utf-16-be", "surrogatepass")
        name += raw[len(raw) // 2 * 2 :].decode("ascii", "surrogateescape")
    else:
        name = raw.decode("utf-8", "surrogateescape")
    base, mark, version = name.rpartition(";")
    if mark and version.isascii() and version.isdigit():
        name = base
    return name[:-1] if len(name) > 1 and name.endswith(".") and kind != JOLIET else name
