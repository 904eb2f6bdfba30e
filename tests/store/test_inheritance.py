"""What lies in an archive that a recorded source names is named too: through every container, nested, and when not."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import tarfile
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from backports import zstd

from catalogue.intake.containers import CONTAINERS
from catalogue.store import Store, evidence
from catalogue.tasks import pieces
from tests.contracts.test_kits_in_packs import PACKS
from tests.contracts.test_kits_in_streams import tarred
from tests.formats import build_7z, build_packs
from tests.intake.test_disk_images import in_fat, in_iso, in_mbr, in_udf
from tests.store.test_evidence import FW, OTHER, Bench, bench, sha

__all__ = ["bench"]
Members = dict[str, bytes]
MEMBERS: Members = {"fw.bin": FW, "other.bin": OTHER}


def zipped(members: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return out.getvalue()


MADE: dict[str, Callable[[Members], bytes]] = {
    "zip": zipped,
    "tar": tarred,
    "tar.gz": lambda members: gzip.compress(tarred(members), mtime=0),
    "tar.xz": lambda members: lzma.compress(tarred(members)),
    "tar.bz2": lambda members: bz2.compress(tarred(members)),
    "tar.zst": lambda members: zstd.compress(tarred(members)),
    "iso": in_iso,
    "udf": in_udf,
    "fat": in_fat,
    "disk": in_mbr,
    "cpio": lambda members: build_packs.cpio(
        *(build_packs.Entry(name.encode(), body) for name, body in members.items())
    ),
    "deb": lambda members: build_packs.deb(lzma.compress(tarred(members))),
    **{name.partition(".")[2]: make for name, make in PACKS.items()},
}


@pytest.mark.parametrize("how", MADE)
def test_members_of_a_named_archive_are_named(how: str, bench: Bench) -> None:
    data = MADE[how](MEMBERS)
    bench.put({f"bundle.{how}": data})
    assert "named" not in dict(bench.rungs(FW)), "nobody recorded anything yet"
    bench.record(f"{sha(data)}  bundle.{how}\n")
    for one in MEMBERS.values():
        (first, *_rest) = bench.facts(one).vouches
        assert (first.rung, first.algorithm) == ("named", "sha256")
        assert first.place.endswith("list.txt, line 1")


@pytest.mark.parametrize("how", MADE)
def test_nested_in_each(how: str, bench: Bench) -> None:
    outer = MADE[how]({"inner.zip": zipped(MEMBERS)})
    bench.put({f"bundle.{how}": outer})
    bench.record(f"{sha(outer)}  bundle.{how}\n")
    assert bench.rungs(FW)[0] == bench.rungs(OTHER)[0] == ("named", "sha256")


def test_every_container_is_tried() -> None:
    """A row of CONTAINERS that no archive here begins: the test above must grow with the table."""
    from catalogue.formats import read
    from catalogue.formats.view import BytesView

    met: set[str] = set()
    for make in MADE.values():
        reading = read(BytesView(make(MEMBERS)))
        met |= {one.kind for one in (reading, *reading.parts)}
    assert set(CONTAINERS) == met & set(CONTAINERS)


def test_a_member_lying_elsewhere_too_is_named_once_and_for_all(bench: Bench) -> None:
    data = zipped(MEMBERS)
    bench.put({"bundle.zip": data, "loose/fw.bin": FW})
    bench.record(f"{sha(data)}  bundle.zip\n")
    assert bench.rungs(FW)[0] == ("named", "sha256")


# What gives nothing on


def test_a_damaged_member_inherits_nothing(bench: Bench) -> None:
    files = [build_7z.File("fw.bin", FW, crc=1), build_7z.File("other.bin", OTHER)]
    data = build_7z.archive(*files)
    bench.put({"a.7z": data})
    bench.record(f"{sha(data)}  a.7z\n")
    assert "named" not in dict(bench.rungs(FW))
    assert dict(bench.rungs(OTHER)).get("named") == "sha256", "another member's damage is none of its own"


def test_what_lies_in_a_stream_whose_check_fails_inherits_nothing(bench: Bench) -> None:
    right = gzip.compress(tarred(MEMBERS), mtime=0)
    wrong = right[:-8] + bytes([right[-8] ^ 1]) + right[-7:]
    bench.put({"a.tar.gz": wrong})
    bench.record(f"{sha(wrong)}  a.tar.gz\n")
    assert "named" not in dict(bench.rungs(FW)) | dict(bench.rungs(OTHER))


def test_a_volume_in_doubt_gives_nothing_on(bench: Bench) -> None:
    """A FAT volume whose two tables disagree keeps no check of its files, so nothing tells which of them are whole."""
    data = bytearray(in_fat(MEMBERS))
    data[549] ^= 0x11
    bench.put({"stick.img": bytes(data)})
    bench.record(f"{sha(bytes(data))}  stick.img\n")
    assert bench.rungs(FW) == bench.rungs(OTHER) == []


def test_the_member_a_tar_breaks_off_in_inherits_nothing(bench: Bench) -> None:
    last = b"l\0" * 4_000
    whole = tarred({**MEMBERS, "last.bin": last})
    data = whole[: whole.index(b"l\0l\0") + 500]
    bench.put({"a.tar": data})
    bench.record(f"{sha(data)}  a.tar\n")
    with Store.open(bench.context.catalogue) as store:
        known = evidence.facts(store, [one.sha256 for one in pieces.run(bench.context)])
    assert {one.info.size for one in known.values() if any(v.rung == "named" for v in one.vouches)} == {
        len(data), len(FW), len(OTHER),
    }  # fmt: skip


def test_an_archive_that_a_list_speaks_against_gives_nothing_on(bench: Bench) -> None:
    data = zipped(MEMBERS)
    bench.put({"a.zip": data, "SUMS": f"{'0' * 64}  a.zip\n", "else/fw.bin": FW})
    bench.record(f"{sha(data)}  somewhere-else.zip\n")
    assert "named" not in dict(bench.rungs(FW))
    (bench.folder / "SUMS").unlink()
    bench.put({})
    assert bench.rungs(FW)[0] == ("named", "sha256")


def test_a_locked_or_missing_member_takes_nobody_with_it(bench: Bench, tmp_path: Path) -> None:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as archive:
        link = tarfile.TarInfo("link")
        link.type, link.linkname = tarfile.SYMTYPE, "../../fw.bin"
        archive.addfile(link)
        one = tarfile.TarInfo("fw.bin")
        one.size = len(FW)
        archive.addfile(one, io.BytesIO(FW))
    bench.put({"a.tar": out.getvalue()})
    bench.record(f"{sha(out.getvalue())}  a.tar\n")
    assert bench.rungs(FW)[0] == ("named", "sha256")
