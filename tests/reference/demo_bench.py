"""A small bench for tests: lay bundles of the demo in a folder, change them, index them, ask for kits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from hashlib import sha256
from pathlib import Path

from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Kit, Pin, Word
from catalogue.tasks import index, kit
from catalogue.tasks.context import Context
from sample_bundles import bittern, heron, lists, plover
from sample_bundles.item import Item

TODAY = date(2026, 3, 2)
"""The day after the demo families' own `as_of`."""

WHOLE = {
    bittern.FAMILY: (bittern.FIRMWARE, bittern.LEGACY, bittern.UEFI, bittern.EEPROM, bittern.DOS_WRITER,
                     bittern.EXTENDER, bittern.UEFI_WRITER),
    heron.FAMILY: (heron.FIRMWARE, heron.LEGACY, heron.UEFI, heron.EEPROM, heron.NOTES, heron.DOS_WRITER, heron.KEYS,
                   heron.UEFI_WRITER),
    plover.FAMILY: (plover.FIRMWARE, plover.ROM, plover.LINUX_WRITER, plover.UEFI_WRITER),
}
"""Each family's current pieces, nothing else."""


def digest(item: Item) -> str:
    return sha256(item.data).hexdigest()


@dataclass(frozen=True)
class Bundle:
    """Pieces that lie together: `packed` in a zip or loose in a folder; `listed` "" (no list), "right" or "stale".

    A stale list speaks of `before`, the pieces as they were.
    """

    items: tuple[Item, ...]
    packed: bool = True
    listed: str = ""
    before: tuple[Item, ...] = ()

    @classmethod
    def of(cls, family: str) -> Bundle:
        return cls(WHOLE[family], before=WHOLE[family])

    def put(self, old: Item, new: Item | bytes) -> Bundle:
        """`new` in the place of `old`: bytes keep the name."""
        made = replace(old, content=new, members=None) if isinstance(new, bytes) else new
        assert any(one is old for one in self.items)
        return replace(self, items=tuple(made if one is old else one for one in self.items))

    def without(self, *old: Item) -> Bundle:
        left = tuple(one for one in self.items if not any(one is gone for gone in old))
        assert len(left) == len(self.items) - len(old)
        return replace(self, items=left)

    def add(self, *new: Item) -> Bundle:
        return replace(self, items=(*self.items, *new))

    def lay(self, folder: Path, name: str = "bundle") -> Path:
        """On disk, below `folder`."""
        items = list(self.items)
        if self.listed:
            meant = self.before if self.listed == "stale" else self.items
            items.append(Item("SHA256SUMS", lists.coreutils(meant)))
        if self.packed:
            path = folder / f"{name}.zip"
            path.write_bytes(Item(path.name, members=tuple(items)).data)
            return path
        return lay(items, folder / name)


def lay(items: Iterable[Item], folder: Path) -> Path:
    for item in items:
        path = folder / item.name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(item.data)
    return folder


class Bench:
    """One catalogue in `folder`, and an intake folder beside it."""

    def __init__(self, folder: Path, families: Sequence[Path] = ()) -> None:
        self.intake = folder / "in"
        self.intake.mkdir(parents=True, exist_ok=True)
        self.context = Context(str(folder / "catalogue.db"), tuple(families), TODAY)

    def index(self) -> None:
        index.run(self.context, [self.intake])

    def kit(
        self, family: str, route: str | None = None, *, pins: Sequence[Pin] = (), words: Sequence[Word] = ()
    ) -> Kit:
        return kit.run(self.context, family, route, pins=pins, words=words)

    def prove(self, bundle: Bundle, family: str, route: str | None = None) -> Kit:
        bundle.lay(self.intake)
        self.index()
        return self.kit(family, route)


def stops(kit: Kit) -> set[tuple[str, str | None]]:
    """Code and role of every stop."""
    return {(one.code, one.role) for one in kit.findings if one.level is Level.STOP}


def codes(kit: Kit, level: Level) -> set[str]:
    return {one.code for one in kit.findings if one.level is level}


def chosen(kit: Kit) -> dict[str, tuple[str, ...]]:
    return {one.role: one.pieces for one in kit.roles}


def why_not(kit: Kit, role: str, piece: str) -> tuple[str, ...]:
    """Why a near piece was not chosen; LookupError where it stands nowhere."""
    for choice in kit.roles:
        if choice.role == role:
            for other in choice.others:
                if other.piece == piece:
                    return other.why
    raise LookupError(f"{piece} is not near {role}")
