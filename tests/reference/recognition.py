"""How well pieces are told apart: real files, what their packages and `file`(1) say they are, and what we say.

Sources: Debian packages (unpacked, never installed), the PyPI packages that are installed here, and Debian package
`file`. The truth of a file is what its package calls it: the rules below go by names and by `file`, never by our own
readings. What neither tells is left out and counted.
"""

from __future__ import annotations

import random
import re
import subprocess
import sysconfig
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from catalogue import formats
from catalogue.formats.view import BytesView
from tests.reference import debian

SMALL = (
    "seabios", "ipxe-qemu", "vgabios", "syslinux-common", "syslinux-efi", "qemu-system-data", "firmware-tomu",
    "efitools", "arduino-core-avr", "opensbi", "dfu-util", "hackrf-firmware", "u-boot-tools",
)  # fmt: skip
"""Packages of the sample that every run of the tests looks at: 5 MB to fetch."""
LARGE = (
    *SMALL, "ovmf", "ovmf-ia32", "qemu-efi-aarch64", "shim-signed", "shim-unsigned", "grub-efi-amd64-signed",
    "grub-efi-amd64-bin", "grub-efi-ia32-bin", "grub-pc-bin", "grub-firmware-qemu", "systemd-boot-efi", "memtest86+",
    "isolinux", "pxelinux", "extlinux", "syslinux", "firmware-linux-free", "firmware-ath9k-htc",
    "sigrok-firmware-fx2lafw", "ubertooth-firmware", "u-boot-qemu", "refind", "loadlin", "nsis-common", "gnu-efi",
    "palo", "multiboot", "dosfstools", "mtools", "pciutils", "nvme-cli", "ethtool", "smartmontools", "kexec-tools",
    "fonts-dejavu-core", "fonts-font-awesome", "fonts-hack", "tango-icon-theme", "sdcc-doc", "gputils", "gputils-doc",
    "maint-guide", "python3-pip-whl", "python3-setuptools-whl", "libjs-jquery", "junit4", "sound-theme-freedesktop",
    "xfonts-75dpi", "manpages-dev", "perl-modules-5.36", "sdcc-libraries", "mingw-w64-x86-64-dev", "fcode-utils",
)  # fmt: skip
"""Packages of the whole measurement: about 90 MB to fetch, once."""
MOST_BYTES = 8 << 20
_SEED = "recognition 1"

# The first rule that a file answers to. Names are those of the packages; "common practice" where an ending is no
# standard's. `said` must be found in what `file` says, where it is given.
_RULES: tuple[tuple[str, str, str], ...] = tuple(
    (truth, name, said)
    for truth, name, said in (
        ("option-rom", r"ipxe/qemu/.*\.rom|vgabios.*\.bin", ""),
        ("option-rom", r"qemu/(?:kvmvapic|linuxboot|multiboot|pvh|sgabios).*\.bin", ""),
        ("firmware-volume", r"(?:OVMF|AAVMF|QEMU_EFI).*\.fd", ""),
        ("fcode", r"QEMU,\w+\.bin", ""),
        ("device-tree", r".*\.dtb", ""),
        ("efi", r".*\.efi(?:\.signed|\.stub)?", ""),
        ("dfu", r".*\.dfu", ""),
        ("hex", r".*\.i?hex", ""),
        ("uf2", r".*\.uf2", ""),
        ("windows", r".*", r"^PE32(?!.*EFI)"),
        ("dos", r".*\.exe", "MS-DOS"),
        ("other", r".*\.(?:c32|e32|e64|o|obj)", ""),
        ("linux", r".*", r"^ELF .*(?:dynamically linked|for GNU/Linux|interpreter)"),
        ("other", r".*", r"^ELF"),
        ("zip", r".*\.(?:zip|whl|jar|egg|odt|docx|npz)", "Zip|Java archive|OpenDocument|Microsoft Word"),
        ("archive", r".*\.(?:gz|xz|bz2|zst|tar|tgz|7z|cab|iso|deb|rpm|a)", ""),
        ("pictures", r".*\.(?:png|jpe?g|gif|ico|icns|bmp|tiff?|webp|xcf)", "image|icon"),
        ("fonts", r".*\.(?:ttf|otf|woff2?|pfb|pcf|eot|afm\.gz)", "font|Font|OpenType|TrueType"),
        ("documents", r".*\.(?:pdf|ps|doc)", "PDF|PostScript|Composite"),
        ("sounds", r".*\.(?:og[ga]|wav|mp3)", ""),
        ("checksums", r".*(?:md5sums|SHA256SUMS|\.sha256)", "text"),
        ("signature", r".*\.(?:asc|sig|minisig)", ""),
        ("text", r".*", r"\btext\b"),
        ("other", r".*\.(?:pyc|mo|qm|bin|fw|img|0|mod|com|ko|res|cis|dat|pickle|lid|rom|npy|rcc|pak)", ""),
    )
)
_OURS = (
    ("option-rom", r"option-rom.*"), ("efi", r"efi-.*"), ("windows", r"windows-program"), ("dos", r"dos-program"),
    ("linux", r"linux-program"), ("zip", r"archive/zip"), ("archive", r"archive/.*"), ("device-tree", r"device-tree"),
    ("firmware-volume", r"firmware-volume"), ("fcode", r"fcode-program"), ("dfu", r"dfu-file"),
    ("hex", r"intel-hex|s-record"), ("uf2", r"uf2"), ("capsule", r"capsule"), ("pldm", r"pldm-package"),
    ("vpd", r"vpd"), ("eeprom", r"eeprom-image"), ("text", r"text"), ("checksums", r"checksum-list"),
    ("signature", r".*signature"),
)  # fmt: skip
NOT_TOLD = frozenset({"pictures", "fonts", "documents", "sounds", "other"})
"""Truths that no reader claims to know: rightly, such files are opaque."""
_AS_WELL = {("archive", "zip"), ("checksums", "text"), ("signature", "text"), ("archive", "opaque"), ("dfu", "other")}


@dataclass(slots=True)
class Table:
    """Counts by (truth, ours), and for each pair that disagrees a few of its files. `untold`: without a truth."""

    counts: Counter[tuple[str, str]] = field(default_factory=Counter)
    wrong: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    untold: int = 0

    def add(self, truth: str, ours: str, name: str) -> None:
        """Count one file."""
        self.counts[truth, ours] += 1
        if not agrees(truth, ours):
            self.wrong.setdefault((truth, ours), []).append(name)

    @property
    def files(self) -> int:
        """Files that have a truth."""
        return sum(self.counts.values())

    def precision(self, ours: str) -> tuple[int, int]:
        """Of the files that we call so, those that are, and all."""
        called = {pair: count for pair, count in self.counts.items() if pair[1] == ours}
        return sum(count for pair, count in called.items() if agrees(*pair)), sum(called.values())

    def recall(self, truth: str) -> tuple[int, int]:
        """Of the files that are so, those that we call so, and all."""
        are = {pair: count for pair, count in self.counts.items() if pair[0] == truth}
        return sum(count for pair, count in are.items() if agrees(*pair)), sum(are.values())

    def lines(self) -> Iterator[str]:
        """Precision and recall a kind, then the confusions with examples."""
        yield f"{self.files} files with a truth, {self.untold} without"
        yield f"{'kind':<16} {'precision':>16} {'recall':>16}"
        for kind in sorted({one for pair in self.counts for one in pair}):
            yield f"{kind:<16} {_share(*self.precision(kind)):>16} {_share(*self.recall(kind)):>16}"
        yield "confusions: what the package says, what we say, files"
        for (truth, ours), names in sorted(self.wrong.items(), key=lambda one: -len(one[1])):
            yield f"  {truth:<16} {ours:<16} {len(names):>6}  {', '.join(names[:3])}"


def agrees(truth: str, ours: str) -> bool:
    """Whether the two are one: a zip is an archive; what no reader knows is opaque."""
    return truth == ours or (truth, ours) in _AS_WELL or (truth in NOT_TOLD and ours == "opaque")


def _share(good: int, all_of: int) -> str:
    return f"{100 * good / all_of:6.2f}% of {all_of}" if all_of else "-"


def ours(kind: str) -> str:
    """Our kind as one of the table's words; opaque for opaque."""
    return next((word for word, pattern in _OURS if re.fullmatch(pattern, kind)), kind)


def truth(name: str, said: str) -> str:
    """What the package says the file is, "" where neither its name nor `file` tells."""
    for word, pattern, wants in _RULES:
        if re.search(f"(?:^|/)(?:{pattern})$", name, re.I) and (not wants or re.search(wants, said)):
            return word
    return ""


def measure(packages: Sequence[str], *, most: int, installed: int) -> Table:
    """The table of the packages' files and of `installed` files of the PyPI packages that are installed here.

    `most` files of one package with one ending are taken, by a seeded choice. Skips the test where a package or `file`
    cannot be had.
    """
    table = Table()
    folders = [(package, debian.files(package)) for package in packages]
    for package, folder in folders:
        take(table, folder, f"{package}/", _chosen(_files(folder), folder, most))
    site = Path(sysconfig.get_paths()["purelib"])
    take(table, site, "pypi/", random.Random(_SEED).sample(found := sorted(_files(site)), min(installed, len(found))))
    return table


def take(table: Table, folder: Path, prefix: str, paths: Iterable[Path]) -> None:
    """Read the files and count them."""
    wanted = list(paths)
    for path, said in zip(wanted, _by_file(wanted), strict=True):
        name = f"{prefix}{path.relative_to(folder).as_posix()}"
        data = path.read_bytes()
        known = truth(name, said)
        if not known or not data or not data.strip(b"\0\xff"):
            table.untold += 1
            continue
        table.add(known, ours(formats.read(BytesView(data)).kind), name)


def _files(folder: Path) -> Iterator[Path]:
    for path in folder.rglob("*"):
        if path.is_file() and not path.is_symlink() and path.stat().st_size <= MOST_BYTES and path.name != debian.DONE:
            yield path


def _chosen(paths: Iterable[Path], folder: Path, most: int) -> list[Path]:
    groups: dict[str, list[Path]] = {}
    for path in sorted(paths):
        groups.setdefault("".join(path.suffixes[-2:]).lower(), []).append(path)
    chance = random.Random(f"{_SEED} {folder.name}")
    return [one for _, group in sorted(groups.items()) for one in chance.sample(group, min(most, len(group)))]


def _by_file(paths: Sequence[Path]) -> list[str]:
    """What `file` says of each, one line a file."""
    if not paths:
        return []
    names = b"\n".join(str(path).encode() for path in paths)
    told = subprocess.run(["file", "-b", "-f", "-"], input=names, capture_output=True, check=True, timeout=300)
    return told.stdout.decode("utf-8", "replace").splitlines()
