"""What is known of one medium: the facts that the target rules judge. Gathered here and nowhere else."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from catalogue.media import disk
from catalogue.media.disk import Entry
from catalogue.media.plan import Clash
from catalogue.shapes.kit import Kit

STARTERS = frozenset({"AUTOEXEC.BAT", "CONFIG.SYS", "FDCONFIG.SYS", "FDAUTO.BAT", "STARTUP.NSH"})
"""Files that a DOS or a UEFI shell runs by itself (UEFI Shell specification: startup.nsh; DOS: common practice)."""
MOST_STARTER = 65_536
"""Bytes of a starting file that are looked at."""
FAT16_CLUSTERS = 65_525
"""Under this many clusters a volume is FAT12 or FAT16 (Microsoft FAT specification, determination of the type)."""
FAT_TYPES = frozenset({"vfat", "msdos", "umsdos"})

UEFI_BOOT_FILES = {
    "BOOTIA32.EFI": 0x014C, "BOOTX64.EFI": 0x8664, "BOOTARM.EFI": 0x01C2, "BOOTAA64.EFI": 0xAA64,
    "BOOTRISCV64.EFI": 0x5064, "BOOTLOONGARCH64.EFI": 0x6264,
}  # fmt: skip
"""What firmware starts from a removable medium, under EFI/BOOT, by PE machine (UEFI Specification 3.5.1.1)."""
DOS_BOOT_FILES = ("IO.SYS", "IBMBIO.COM", "KERNEL.SYS")
"""System files of which a DOS boot sector loads one from the root folder (common practice, no published source)."""

LITTER = frozenset(
    {
        "system volume information", "$recycle.bin", "recycler", "recycled", "thumbs.db", "desktop.ini", "bootex.log",
        "lost+found", "found.000", ".ds_store", ".trashes", ".fseventsd", ".spotlight-v100", ".temporaryitems",
        ".apdisk", ".metadata_never_index", ".volumeicon.icns", ".directory",
    }
)  # fmt: skip
"""What systems leave on a medium by themselves (common practice)."""


@dataclass(frozen=True, slots=True)
class Space:
    """Room on a volume, in bytes. None where the system does not say.

    `fat` says whether it is a FAT volume; `root_left` how many entries its root of fixed size can still take, where
    the target is that root; `files_left` how many more files the volume can hold.
    """

    free: int | None
    cluster: int
    fat: bool | None = None
    root_left: int | None = None
    files_left: int | None = None


@dataclass(frozen=True, slots=True)
class Needs:
    """What writing will take: bytes of each file still to be written, by name, and new entries in the root."""

    sizes: Mapping[str, int] = field(default_factory=dict)
    root_entries: int = 0


@dataclass(frozen=True, slots=True)
class Starter:
    """A file on the medium that starts by itself, and its lines (bounded, undecodable bytes as replacements)."""

    name: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Listed:
    """One file that a kit's folder should hold: its name, SHA-256, the piece's kind ("" for a paper of ours)."""

    name: str
    sha256: str
    kind: str = ""
    roles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Differs:
    """Something about a kit's folder that is not as its papers say. `name` is the file, "" for the folder itself."""

    name: str
    text: str
    want: str = ""
    have: str = ""


@dataclass(frozen=True, slots=True)
class Folder:
    """One kit's folder. `path` is shown before its files' names: "" where the target is the folder itself.

    `kit` is None where its papers could not be read. `listed` is what it should hold, `entries` what lies there,
    `foreign` names that a write-out needs and somebody else's file has.
    """

    path: str
    kit: Kit | None
    listed: tuple[Listed, ...] = ()
    entries: tuple[Entry, ...] = ()
    differs: tuple[Differs, ...] = ()
    foreign: tuple[Clash, ...] = ()
    more: bool = False

    def shown(self, name: str) -> str:
        """`name` as it is shown for the whole target."""
        return f"{self.path}/{name}" if self.path else name


@dataclass(frozen=True, slots=True)
class Changed:
    """A piece whose bytes are no longer those that were judged, or a kit or family that is another one now."""

    name: str
    sha256: str
    role: str
    want: str
    have: str


@dataclass(frozen=True, slots=True)
class Boot:
    """What a machine could start from the medium, and the processor of the bench (a PE machine, None: not told)."""

    files: tuple[str, ...]
    cpu: int | None = None


@dataclass(frozen=True, slots=True)
class Medium:
    """One medium at one moment; facts not gathered are empty, and the rules are silent about them.

    `root` are the entries beside the kits' folders; `lines` the longest forms of the lines to type, by step;
    `bench` is "" where it is not known. `boot` is None where the target is no volume's root, so that nobody starts it.
    """

    target: str
    folders: tuple[Folder, ...] = ()
    root: tuple[Entry, ...] = ()
    more: bool = False
    starters: tuple[Starter, ...] = ()
    clashes: tuple[Clash, ...] = ()
    space: Space | None = None
    needs: Needs = Needs()
    lines: tuple[tuple[str, str], ...] = ()
    changed: tuple[Changed, ...] = ()
    bench: str = ""
    boot: Boot | None = None


def boot(target: Path, root: tuple[Entry, ...], cpu: int | None) -> Boot | None:
    """The boot files of a volume's root, in capitals; None where `target` is a folder within a volume."""
    if not target.is_mount():
        return None
    found = [one.name.upper() for one in root if one.kind == "file" and one.name.upper() in DOS_BOOT_FILES]
    folder = target
    entries = root
    for name in ("EFI", "BOOT"):
        inner = next((one.name for one in entries if one.kind == "folder" and one.name.upper() == name), None)
        if inner is None:
            return Boot(tuple(found), cpu)
        folder = folder / inner
        entries = disk.listing(folder)[0]
    names = (one.name.upper() for one in entries if one.kind == "file")
    return Boot((*found, *(f"EFI/BOOT/{name}" for name in names if name in UEFI_BOOT_FILES)), cpu)


def starters(folder: Path, entries: tuple[Entry, ...]) -> tuple[Starter, ...]:
    """The files among `entries` that start by themselves; one that cannot be read has no lines."""
    found = []
    for one in entries:
        if one.name.upper() in STARTERS and one.kind == "file":
            try:
                data = disk.small(folder / one.name, max(MOST_STARTER, 0)) or b""
            except (OSError, disk.NotPlain):
                data = b""
            if data.startswith((b"\xff\xfe", b"\xfe\xff")):
                text = data.decode("utf-16", errors="replace")
            else:
                text = data.decode("utf-8", errors="replace")
            found.append(Starter(one.name, tuple(line.strip() for line in text.splitlines())))
    return tuple(found)


def space(target: Path, root: tuple[Entry, ...]) -> Space:
    """The room on the volume that holds `target`; what the system does not say stays None."""
    fat = _is_fat(target)
    if not hasattr(os, "statvfs"):
        try:
            return Space(shutil.disk_usage(target).free, 4096, fat)
        except OSError:
            return Space(None, 4096, fat)
    facts = os.statvfs(target)
    cluster = facts.f_frsize or facts.f_bsize or 4096
    free = facts.f_bavail * cluster if facts.f_blocks else None
    files = facts.f_favail if facts.f_files else None
    return Space(free, cluster, fat, _root_left(target, root, fat, facts.f_blocks, cluster), files)


def _root_left(target: Path, root: tuple[Entry, ...], fat: bool | None, clusters: int, cluster: int) -> int | None:
    """Entries left in a FAT12 or FAT16 root of the usual size (common practice); None where that is not known."""
    if not fat or clusters >= FAT16_CLUSTERS or not target.is_mount():
        return None
    size = clusters * cluster
    usual = 112 if size < 1_000_000 else 224 if size < 2_000_000 else 512
    used = 1 + sum(root_entries(one.name) for one in root)
    return usual - used if used <= usual else None


def root_entries(name: str) -> int:
    """Directory entries that a name takes: one, and one more for every 13 UTF-16 units of a long name (FAT spec)."""
    short = name.isascii() and name == name.upper() and len(name) <= 12 and name.count(".") <= 1
    return 1 if short else 1 + -(-len(name.encode("utf-16-le", "surrogatepass")) // 26)


def _is_fat(target: Path) -> bool | None:
    """Whether the volume is FAT, by Linux's list of mounts (proc(5), mountinfo); None where that is not known."""
    try:
        device = os.stat(target).st_dev  # noqa: PTH116 - the same call on every system
        wanted = f"{os.major(device)}:{os.minor(device)}"
        with Path("/proc/self/mountinfo").open(encoding="utf-8", errors="replace") as mounts:
            for line in mounts:
                before, _, behind = line.partition(" - ")
                if before.split(" ")[2:3] == [wanted]:
                    return behind.split(" ")[0] in FAT_TYPES
    except (OSError, AttributeError):
        return None
    return None


def is_litter(entry: Entry) -> bool:
    """Whether a system leaves an entry of this name by itself."""
    low = entry.name.lower()
    recovered = low.startswith("fsck") and low.endswith(".rec") and low[4:-4].isdigit()
    return low in LITTER or low.startswith((".trash-", "._", ".fuse_hidden")) or recovered
