"""Members of disk images through intake: found, read, got again byte for byte; a kit proved out of each kind."""

from __future__ import annotations

import hashlib
import io
import os
import random
import shutil
import subprocess
import zipfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from catalogue.formats.view import BytesView
from catalogue.intake import bounds, fetch
from catalogue.intake.containers import CONTAINERS
from catalogue.store import Store
from catalogue.tasks import index
from catalogue.tasks.context import Context
from tests.contracts.test_kits_outside import Bench, bench, sound, stops
from tests.formats import build_iso, build_udf
from tests.formats.build_disk import gpt, gpt_entry, mbr, mbr_entry, put
from tests.formats.build_fat import entry, fat, long
from tests.formats.disk_samples import FAT12, FAT32, GPT, ISO, LOGICAL, MBR, ROCK_RIDGE, UDF

__all__ = ["bench"]


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def in_fat(pieces: Mapping[str, bytes], bits: int = 16) -> bytes:
    """The pieces under long names; each one's clusters lie backwards, so that none is in one stretch."""
    root, chains, data = b"", [], {}
    first = 40 if bits == 32 else 2
    for number, (name, content) in enumerate(pieces.items()):
        count = -(-len(content) // 512)
        chain = tuple(range(first + count - 1, first - 1, -1))
        first += count
        short = b"P%d" % number
        root += long(name, short) + entry(short, chain[0], len(content))
        chains.append(chain)
        data |= {cluster: content[512 * n : 512 * n + 512] for n, cluster in enumerate(chain)}
    room = {12: 4_000, 16: 5_000, 32: 5_000}[bits]
    # On FAT32 the root folder is three clusters long.
    longer = {2: 3, 3: 4, 4: 0xFFFFFFF} if bits == 32 else None
    return fat(root, bits=bits, clusters=room, data=data, chains=tuple(chains), table=longer)


def in_iso(pieces: Mapping[str, bytes]) -> bytes:
    """The pieces with Rock Ridge names."""
    records, blocks, at = [], {}, 19
    for number, (name, content) in enumerate(pieces.items()):
        use = build_iso.nm(name.encode()) + build_iso.px(0o100644)
        records.append(build_iso.record(b"P%d.;1" % number, at, len(content), use=use))
        blocks[at] = content
        at += -(-len(content) // build_iso.BLOCK)
    return build_iso.iso({18: build_iso.folder(18, *records, use=build_iso.SP), **blocks}, total=at)


def in_udf(pieces: Mapping[str, bytes]) -> bytes:
    """The pieces each in two stretches."""
    names, blocks, at = [], {}, 2 + len(pieces)
    for number, (name, content) in enumerate(pieces.items()):
        half = len(content) // 1_024 * 512
        rest = len(content) - half
        second = at + half // 512 + 1
        areas = (build_udf.short_ad(at, half) if half else b"") + build_udf.short_ad(second, rest)
        blocks |= {at: content[:half], second: content[half:], 2 + number: build_udf.file_entry(len(content), areas)}
        names.append(build_udf.named(name, 2 + number))
        at = second + -(-rest // 512)
    return build_udf.udf({1: build_udf.root(*names), **blocks}, length=at)


def in_mbr(pieces: Mapping[str, bytes]) -> bytes:
    inner = in_fat(pieces)
    sectors = len(inner) // 512
    return put((sectors + 3) * 512, {0: mbr(mbr_entry(3, sectors, 6)), 3: inner})


def in_gpt(pieces: Mapping[str, bytes]) -> bytes:
    inner = in_fat(pieces, 12)
    sectors = len(inner) // 512
    return gpt(gpt_entry(4, 3 + sectors), sectors=sectors + 8, parts={4: inner})


IMAGES: dict[str, Callable[[Mapping[str, bytes]], bytes]] = {
    "fat12": lambda pieces: in_fat(pieces, 12),
    "fat16": in_fat,
    "fat32": lambda pieces: in_fat(pieces, 32),
    "iso": in_iso,
    "udf": in_udf,
    "mbr": in_mbr,
    "gpt": in_gpt,
}
NAMED = pytest.mark.parametrize("image", IMAGES)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "c.sqlite")) as opened:
        yield opened


def indexed(store: Store, folder: Path) -> None:
    index.run(Context(store.name), [folder])


@NAMED
@pytest.mark.parametrize("zipped", [False, True], ids=["loose", "in a zip"])
def test_every_member_is_got_again(store: Store, tmp_path: Path, image: str, zipped: bool) -> None:
    chance = random.Random(image)
    pieces = {f"piece{n}.b": chance.randbytes(size) for n, size in enumerate((1, 511, 512, 513, 5_000, 70_000))}
    data = IMAGES[image](pieces)
    folder = tmp_path / "in"
    folder.mkdir()
    if zipped:
        with zipfile.ZipFile(folder / "a.zip", "w", zipfile.ZIP_DEFLATED) as made:
            made.writestr("image", data)
    else:
        (folder / "image").write_bytes(data)
    indexed(store, folder)
    for content in pieces.values():
        assert fetch.piece_bytes(store, sha(content)) == content
        with fetch.open_piece(store, sha(content)) as stream:
            assert stream.read() == content


@NAMED
@pytest.mark.parametrize("verdict", ["ready", "not-ready"])
def test_a_kit_out_of_an_image(image: str, verdict: str, bench: Callable[..., Bench]) -> None:
    """The sound kit, all its pieces in one image, is ready; with one bit of the summed ROM changed it is not."""
    pieces = sound()
    alone: dict[str, bytes | None] = dict.fromkeys(pieces)
    if verdict == "not-ready":
        broken = bytearray(pieces["leg.rom"])
        broken[-1] ^= 1
        pieces["leg.rom"] = bytes(broken)
    kit = bench({**alone, "downloads.img": IMAGES[image](pieces)}).kit()
    assert kit["verdict"] == verdict, stops(kit)


@pytest.mark.parametrize("data", [FAT12, FAT32, ISO, ROCK_RIDGE, UDF, MBR, GPT, LOGICAL])
def test_openers_give_what_readers_list(data: bytes) -> None:
    from catalogue import formats

    view = BytesView(data)
    reading = formats.read(view)
    opened = CONTAINERS[reading.kind].open(view)
    assert opened is not None
    entries = list(opened.entries())
    assert [(one.name, one.size, one.fault) for one in entries] == [(m.name, m.size, m.fault) for m in reading.members]
    for one in entries:
        assert opened.find(one.position) == one
        if one.usable:
            got = b"".join(opened.chunks(one))
            assert len(got) == one.size
            if one.offset is not None:
                assert got == data[one.offset : one.offset + len(got)], "read in place"
    assert opened.find(-1) is None
    assert opened.find(len(reading.members)) is None


def test_a_changed_image_is_told(store: Store, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    path = tmp_path / "in" / "image"
    content = os.urandom(600)
    path.write_bytes(in_fat({"a": content}, 12))
    indexed(store, tmp_path / "in")
    path.write_bytes(in_fat({"a": content[:-1]}, 12))
    with pytest.raises(fetch.NotWorkable):
        fetch.piece_bytes(store, sha(content))


def test_cross_linked_bytes_hold_no_pieces(store: Store, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    both = entry(b"A", 2, 600) + entry(b"B", 5, 600) + entry(b"C", 7, 3)
    data = fat(both, chains=((2, 3), (5, 3), (7,)), data={2: b"a" * 600, 7: b"abc"})
    (tmp_path / "in" / "image").write_bytes(data)
    summary = index.run(Context(store.name), [tmp_path / "in"])
    told = sorted(one.place.rpartition(" ")[2] for one in summary.unreadable)
    assert told == ["A", "B"]
    assert store.ways_to([sha(b"a" * 600)]) == {}
    assert fetch.piece_bytes(store, sha(b"abc")) == b"abc"


def test_links_are_no_trouble(store: Store, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    link = build_iso.record(b"L", 20, 0, use=build_iso.nm(b"link") + build_iso.px(0o120777))
    data = build_iso.iso({18: build_iso.folder(18, build_iso.record(b"A", 20, 3), link, use=build_iso.SP), 20: b"abc"})
    (tmp_path / "in" / "image").write_bytes(data)
    assert not index.run(Context(store.name), [tmp_path / "in"]).unreadable


class Watched:
    """A view that counts what is read of it."""

    def __init__(self, parts: Mapping[int, bytes], size: int) -> None:
        self.size, self.given, self._parts = size, 0, parts

    def at(self, offset: int, length: int) -> bytes:
        length = max(0, min(length, self.size - offset))
        self.given += length
        made = bytearray(length)
        for start, data in self._parts.items():
            if start < offset + length and offset < start + len(data):
                low, high = max(start, offset), min(start + len(data), offset + length)
                made[low - offset : high - offset] = data[low - start : high - start]
        return bytes(made)


def test_a_large_image_is_read_where_its_folders_lie() -> None:
    """4 GiB of ISO: what is asked for is kilobytes."""
    from catalogue.formats import iso_image

    blocks = (4 << 30) // 2_048
    pieces = [build_iso.record(b"F%d.ROM;1" % n, 100 + 30_000 * n, 60_000_000) for n in range(30)]
    image = build_iso.iso({16: build_iso.descriptor(blocks=blocks), 18: build_iso.folder(18, *pieces)}, total=22)
    view = Watched({0: image}, 4 << 30)
    reading = iso_image.read(view)
    assert reading is not None
    assert len(reading.members) == 30
    assert not reading.faults
    assert view.given < 200_000


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("xorriso") is None, reason="needs Debian's xorriso")
def test_a_boot_image_inside_an_iso_inside_a_zip(store: Store, tmp_path: Path) -> None:
    """xorriso's hybrid: a FAT image that only the boot catalogue names is a member, and so are the files in it."""
    folder, source = tmp_path / "in", tmp_path / "source"
    folder.mkdir()
    source.mkdir()
    (source / "notes.txt").write_bytes(b"bench notes\n")
    content = os.urandom(5_000)
    efi = tmp_path / "efi.img"
    efi.write_bytes(in_fat({"driver.efi": content}))
    out = tmp_path / "made.iso"
    appended = ["-append_partition", "2", "0xef", str(efi), "-eltorito-alt-boot"]
    boot = ["-e", "--interval:appended_partition_2:all::", "-no-emul-boot"]
    make = ["xorriso", "-as", "mkisofs", "-quiet", "-R", "-J", *appended, *boot, "-o", str(out), str(source)]
    subprocess.run(make, check=True, capture_output=True)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as made:
        made.write(out, "bench.iso")
    (folder / "a.zip").write_bytes(packed.getvalue())
    indexed(store, folder)
    assert fetch.piece_bytes(store, sha(content)) == content
    assert len(store.ways_to([sha(content)])[sha(content)].ways[0].steps) == 3 <= bounds.MAX_DEPTH
