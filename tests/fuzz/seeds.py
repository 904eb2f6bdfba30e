"""What fuzzing begins from: contract samples, archives by the standard library, real files of Debian packages."""

from __future__ import annotations

import io
import tarfile
import tempfile
import zipfile
from functools import cache
from pathlib import Path

from catalogue import formats
from catalogue.formats.view import BytesView
from tests.contracts.samples import SAMPLES

MOST_REAL = 256 << 10
"""Bytes of a real file that is a seed: longer ones slow every round and show little more."""
MOST_A_KIND = 6
REAL = (
    "ipxe-qemu", "seabios", "shim-signed", "ovmf", "u-boot-tools", "fcode-utils", "dfu-util", "srecord", "opensbi",
    "hackrf-firmware", "firmware-ath9k-htc", "firmware-tomu", "systemd-boot-efi", "arduino-core-avr", "syslinux-common",
)  # fmt: skip
"""Debian packages that other tests fetch; only what already lies unpacked here is used."""
ROOT = Path(__file__).resolve().parents[2]


@cache
def of_reader(name: str, real_too: bool) -> list[bytes]:
    """The contract samples of a reader; with real files that it reads, where they are wanted."""
    return [one.data for one in SAMPLES if one.reader == name] + (real().get(name, []) if real_too else [])


@cache
def of_kind(kind: str, real_too: bool) -> list[bytes]:
    """What the table reads as a piece of this kind, alone or with something before it."""
    out = []
    others = [one for some in real().values() for one in some] if real_too else []
    for data in (*(one.data for one in SAMPLES), *archives(), *others):
        reading = formats.read(BytesView(data))
        if kind in (reading.kind, *(part.kind for part in reading.parts)):
            out.append(data)
    return out


@cache
def of_all(real_too: bool) -> list[bytes]:
    """Every contract sample; with a real file of each format, where they are wanted."""
    return [one.data for one in SAMPLES] + ([some[0] for some in real().values()] if real_too else [])


@cache
def archives() -> tuple[bytes, ...]:
    """Archives by `zipfile` and `tarfile`: every way of packing, archives in archives, long and odd names."""
    inner = _zip(zipfile.ZIP_STORED, {"a.rom": b"\x55\xaa" + bytes(62)})
    content = {"notes.txt": b"7.11.00 " * 40, "in.zip": inner, "d/" + "n" * 200: b"x", "": b"", "é\u202e.bin": b"\0\1"}
    zips = [
        _zip(way, content) for way in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA)
    ]
    tars = [
        _tar(form, content | {"all.zip": zips[1]})
        for form in (tarfile.USTAR_FORMAT, tarfile.GNU_FORMAT, tarfile.PAX_FORMAT)
    ]
    return (*zips, *tars)


def _zip(way: int, content: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", way) as made:
        for name, data in content.items():
            made.writestr(zipfile.ZipInfo(name), data, way)
    return out.getvalue()


def _tar(form: int, content: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w", format=form) as made:
        for name, data in content.items():
            if form == tarfile.USTAR_FORMAT and len(name) > 99:
                continue
            item = tarfile.TarInfo(name)
            item.size = len(data)
            made.addfile(item, io.BytesIO(data))
        link = tarfile.TarInfo("to")
        link.type, link.linkname = tarfile.SYMTYPE, "../../etc/x"
        made.addfile(link)
    return out.getvalue()


@cache
def real() -> dict[str, list[bytes]]:
    """Real files by the reader that knows them, of the Debian packages that lie unpacked here; none where none do."""
    out: dict[str, list[bytes]] = {}
    for store in sorted(Path(tempfile.gettempdir()).glob("kitproof-tests-debian-*")):
        for package in REAL:
            for path in sorted((store / package).rglob("*")):
                if path.is_symlink() or not path.is_file() or not 0 < path.stat().st_size <= MOST_REAL:
                    continue
                data = path.read_bytes()
                some = out.setdefault(formats.read(BytesView(data)).format, [])
                if len(some) < MOST_A_KIND and data not in some:
                    some.append(data)
    return out


@cache
def families() -> list[bytes]:
    """The demo's family files."""
    return [one.read_bytes() for one in sorted((ROOT / "resources" / "families").glob("*.toml"))]
