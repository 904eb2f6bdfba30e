"""Names for PCI IDs, from the list of the PCI ID Project (pci.ids): the system's own, else the one in a package.

The list is looked through where asked, never parsed whole. The package is `pypci-ng`; its data file is read, none of
its code runs. Without either, IDs stand alone.
"""

from __future__ import annotations

import gzip
import importlib.util
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

SYSTEM_LISTS = (
    "/usr/share/misc/pci.ids",
    "/usr/share/hwdata/pci.ids",
    "/var/lib/pciutils/pci.ids",
    "/usr/share/pci.ids",
    "/usr/local/share/pciids/pci.ids",
    "/usr/local/share/pci.ids",
    "/usr/local/share/pci.ids.gz",
    "/opt/homebrew/share/pci.ids",
    "/opt/homebrew/share/pci.ids.gz",
)
"""Where systems keep the list: Debian, Fedora, update-pciids, others (from memory)."""
PACKAGE, IN_PACKAGE = "pypci", "data/pci.ids"
MAX_LIST_BYTES = 16 << 20
MAX_NAME = 200
_VERSION = re.compile(rb"^#\s*Version:\s*([0-9][0-9.\-]{0,20})\s*$", re.MULTILINE)
_NEXT_VENDOR = re.compile(rb"\n[^\t#\n]")


@dataclass(frozen=True, slots=True)
class NameList:
    """One pci.ids: where it lies, the version it states ("" where it states none), and its bytes."""

    file: str
    version: str
    data: bytes

    def vendor(self, vendor: int) -> tuple[str, int] | None:
        """A vendor's name, and where its devices begin."""
        key = b"\n%04x  " % vendor
        at = self.data.find(key)
        if at < 0:
            return None
        end = self._line_end(at + 1)
        return _text(self.data[at + len(key) : end]), end

    def device(self, begin: int, device: int) -> str | None:
        """The name of a device of the vendor whose devices begin there."""
        following = _NEXT_VENDOR.search(self.data, begin)
        end = following.start() if following else len(self.data)
        key = b"\n\t%04x  " % device
        at = self.data.find(key, begin, end)
        return None if at < 0 else _text(self.data[at + len(key) : self._line_end(at + 1)])

    def _line_end(self, at: int) -> int:
        end = self.data.find(b"\n", at)
        return len(self.data) if end < 0 else end


def _text(raw: bytes) -> str:
    """A name as text that can be shown."""
    text = raw.decode("utf-8", "replace").strip()[:MAX_NAME]
    return "".join(one if one.isprintable() else "?" for one in text)


def read_list(path: Path) -> NameList | None:
    """A pci.ids file, also gzipped; None where there is none or it cannot be read."""
    try:
        with gzip.open(path) if path.suffix == ".gz" else path.open("rb") as stream:
            data = stream.read(MAX_LIST_BYTES + 1)
    except (OSError, EOFError):
        return None
    if len(data) > MAX_LIST_BYTES:
        return None
    found = _VERSION.search(data[:4096])
    return NameList(str(path), found.group(1).decode() if found else "", b"\n" + data.replace(b"\r\n", b"\n"))


def lists() -> Iterable[Path]:
    """Where a list may lie, best first: the system's, then the package's."""
    yield from map(Path, SYSTEM_LISTS)
    try:
        found = importlib.util.find_spec(PACKAGE)
    except (ImportError, ValueError):
        found = None
    if found is not None and found.origin:
        yield Path(found.origin).parent / IN_PACKAGE


@lru_cache(maxsize=1)
def name_list() -> NameList | None:
    """The list in use, read once; None where there is none."""
    return next((found for path in lists() if (found := read_list(path)) is not None), None)


def source() -> str:
    """Which list names come from, for a person; "" where there is none."""
    found = name_list()
    if found is None:
        return ""
    return f"pci.ids {found.version} ({found.file})" if found.version else f"pci.ids ({found.file})"


def names(pairs: Iterable[tuple[int, int | None]]) -> Mapping[str, str]:
    """Names for (vendor, device) or (vendor, None): by "vvvv" the vendor's, by "vvvv:dddd" the device's.

    Keys are lower-case hex; an ID that the list does not know has no key.
    """
    found = name_list()
    out: dict[str, str] = {}
    if found is None:
        return out
    for vendor, device in pairs:
        known = found.vendor(vendor)
        if known is None:
            continue
        name, begin = known
        out[f"{vendor:04x}"] = name
        device_name = None if device is None else found.device(begin, device)
        if device_name is not None:
            out[f"{vendor:04x}:{device:04x}"] = device_name
    return out
