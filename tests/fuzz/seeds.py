"""What fuzzing begins from: the contract samples, the demo's files, and real files of Debian packages."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from catalogue import formats
from catalogue.formats.view import BytesView
from tests.contracts.samples import SAMPLES

MOST_REAL = 256 << 10
"""Bytes of a real file that is a seed: longer ones slow every round and show little more."""
MOST_A_KIND = 6
REAL = ("ipxe-qemu", "seabios", "shim-signed", "ovmf", "u-boot-tools", "fcode-utils", "dfu-util", "srecord")
"""Debian packages that other tests fetch; only what is already here is used."""
ROOT = Path(__file__).resolve().parents[2]


def of_reader(name: str) -> list[bytes]:
    """The contract samples of a reader, then real files that it reads."""
    return [one.data for one in SAMPLES if one.reader == name] + real().get(name, [])


def of_all() -> list[bytes]:
    """Every contract sample, and a real file of each format."""
    return [one.data for one in SAMPLES] + [some[0] for some in real().values()]


@cache
def real() -> dict[str, list[bytes]]:
    """Real files by the reader that knows them: of the Debian packages that lie unpacked here, none where none do."""
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
