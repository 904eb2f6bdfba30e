"""What can be written to: mounted volumes with file system and free space, and what lies on one."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QStorageInfo

from ui import text

NO_MEDIUM = frozenset({
    "autofs", "bpf", "cgroup", "cgroup2", "configfs", "debugfs", "devpts", "devtmpfs", "efivarfs", "fusectl",
    "hugetlbfs", "mqueue", "nsfs", "overlay", "proc", "pstore", "rpc_pipefs", "securityfs", "squashfs", "sysfs",
    "tmpfs", "tracefs", "fuse.portal", "fuse.gvfsd-fuse",
})  # fmt: skip
"""File systems that are no medium a person could carry (names as Linux's /proc/filesystems gives them)."""
FAT = frozenset({"vfat", "msdos", "fat", "fat12", "fat16", "fat32"})
OF_THE_MACHINE = ("/", "/boot", "/boot/efi", "/home", "/var", "/usr", "/tmp", "/etc", "/nix", "/snap")  # noqa: S108
MOST_ENTRIES = 200


@dataclass(frozen=True, slots=True)
class Target:
    """One place to write to. `path` is a folder or a volume's root; sizes are bytes."""

    path: str
    name: str
    system: str
    free: int
    total: int
    read_only: bool = False

    @property
    def fat(self) -> bool:
        """Whether DOS and every UEFI shell read it."""
        return self.system.lower() in FAT

    @property
    def facts(self) -> str:
        """One line of facts."""
        system = "FAT" if self.fat else self.system or "file system unknown"
        ends = ", read only" if self.read_only else ""
        return f"{system}, {text.size(self.free)} free of {text.size(self.total)}{ends}"


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that lies on a target. `kind` is kit, half, folder, file or other."""

    name: str
    kind: str
    size: int = 0


def target_of(path: str) -> Target:
    """A folder as a target, with the facts of the volume it lies on."""
    info = QStorageInfo(path)
    return _target(path, Path(path).name or path, info)


def volumes() -> list[Target]:
    """Mounted volumes that a person could carry away; FAT first. May wait for a slow volume: ask in a lane."""
    found = []
    for info in QStorageInfo.mountedVolumes():
        root = info.rootPath()
        kind = bytes(info.fileSystemType().data()).decode("ascii", "replace")
        if not info.isValid() or not info.isReady() or kind in NO_MEDIUM or not Path(root).is_dir():
            continue
        if sys.platform != "win32" and (root in OF_THE_MACHINE or root.startswith(("/proc/", "/sys/", "/dev/"))):
            continue
        found.append(_target(root, info.name() or Path(root).name or root, info))
    return sorted(found, key=lambda one: (not one.fat, one.name.casefold(), one.path))


def lying_on(path: str) -> tuple[list[Entry], bool]:
    """What lies at the top of a target, kits first, and whether there is more than is listed. Raises OSError."""
    found: list[Entry] = []
    more = False
    with os.scandir(path) as entries:
        for entry in entries:
            if len(found) >= MOST_ENTRIES:
                more = True
                break
            found.append(_entry(entry))
    order = {"half": 0, "kit": 1, "folder": 2, "file": 3, "other": 4}
    return sorted(found, key=lambda one: (order[one.kind], one.name.casefold(), one.name)), more


def _entry(entry: os.DirEntry[str]) -> Entry:
    if entry.is_dir(follow_symlinks=False):
        inside = Path(entry.path)
        if (inside / "HALFWAY.KIT").exists():
            return Entry(entry.name, "half")
        return Entry(entry.name, "kit" if (inside / "KIT.JSN").is_file() else "folder")
    if entry.is_file(follow_symlinks=False):
        return Entry(entry.name, "file", entry.stat(follow_symlinks=False).st_size)
    return Entry(entry.name, "other")


def _target(path: str, name: str, info: QStorageInfo) -> Target:
    kind = bytes(info.fileSystemType().data()).decode("ascii", "replace") if info.isValid() else ""
    free, total = (info.bytesAvailable(), info.bytesTotal()) if info.isValid() else (0, 0)
    return Target(path, name, kind, max(0, free), max(0, total), info.isReadOnly())
