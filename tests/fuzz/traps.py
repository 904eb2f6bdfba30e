"""Structures that are sound line by line and hostile as a whole: rings, self-reference, overlap, depth, false sizes."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import struct
import tarfile
import zlib
from collections.abc import Callable, Mapping

from tests.formats import build_iso, build_udf
from tests.formats.build_capsule import Made as Capsule
from tests.formats.build_capsule import Payload, capsule
from tests.formats.build_compound import compound
from tests.formats.build_disk import gpt, gpt_entry, mbr, mbr_entry, put
from tests.formats.build_fat import FOLDER, entry, fat
from tests.formats.build_pldm import Component, package
from tests.formats.build_pldm import Made as Package
from tests.formats.build_rom import Made as Image
from tests.formats.build_rom import image, rom
from tests.formats.build_tree import Names, tokens, tree
from tests.formats.build_volume import nested, volume
from tests.formats.build_zip import Entry, archive
from tests.fuzz.quine import gzip_of_itself

MOST = (1 << 32) - 1
LONG = 65_535
ISO_BLOCKS = 22
ZEROS = bytes(8 << 20)


def _iso(*records: bytes, more: Mapping[int, bytes] | None = None) -> bytes:
    return build_iso.iso({18: build_iso.folder(18, *records), **(more or {})}, ISO_BLOCKS)


def iso_holds_itself() -> bytes:
    """Its one file begins at block 0 and is as long as the image: every unpacking gives the image again."""
    return _iso(build_iso.record(b"AGAIN.ISO;1", 0, ISO_BLOCKS * build_iso.BLOCK))


def iso_folder_in_itself() -> bytes:
    return _iso(build_iso.record(b"AGAIN", 18, 2_048, build_iso.FOLDER))


def iso_folders_in_a_ring() -> bytes:
    down = build_iso.record(b"DOWN", 19, 2_048, build_iso.FOLDER)
    up = build_iso.folder(19, build_iso.record(b"UP", 18, 2_048, build_iso.FOLDER))
    return _iso(down, more={19: up})


def iso_continued_in_itself() -> bytes:
    """A continuation area whose continuation is itself (SUSP, CE)."""
    use = build_iso.SP + build_iso.ce(20, 0, 28)
    return _iso(build_iso.record(b"A.ROM;1", 21, 7, use=use), more={20: build_iso.ce(20, 0, 28)})


def iso_4_gib() -> bytes:
    return _iso(build_iso.record(b"A.ROM;1", 21, MOST), build_iso.record(b"B", MOST, 2_048, build_iso.FOLDER))


def fat_chain_in_a_ring() -> bytes:
    return fat(entry(b"A       ROM", 2, 600_000), table={2: 3, 3: 4, 4: 2}, data={2: b"a" * 512})


def fat_folder_in_itself() -> bytes:
    inside = entry(b"AGAIN", 2, attributes=FOLDER)
    return fat(entry(b"AGAIN", 2, attributes=FOLDER), chains=((2,),), data={2: inside})


def fat_files_share_clusters() -> bytes:
    names = [entry(b"F%d      ROM" % number, 2, 1_000) for number in range(9)]
    return fat(b"".join(names), chains=((2, 3),), data={2: b"a" * 1_000})


def disk_holds_itself() -> bytes:
    return put(16 * 512, {0: mbr(mbr_entry(0, 16), mbr_entry(0, 16, 0x83))})


def disk_logical_in_a_ring() -> bytes:
    ring = {1: mbr(mbr_entry(1, 2), mbr_entry(4, 2, 5)), 5: mbr(mbr_entry(1, 2), mbr_entry(0, 2, 5))}
    return put(16 * 512, {0: mbr(mbr_entry(1, 15, 0x05)), **ring})


def gpt_holds_itself() -> bytes:
    return gpt(gpt_entry(0, 15, "AGAIN"), gpt_entry(4, MOST << 8, "FAR"))


def udf_folder_in_itself() -> bytes:
    return build_udf.udf({1: build_udf.root(build_udf.named("again", 1, 2), build_udf.named("more", 1, 2))})


def installer_chain_in_a_ring() -> bytes:
    return compound({"a": b"a" * 5_000, "b": b"b" * 5_000}, chain={0: 1, 1: 0})


def installer_tree_in_a_ring() -> bytes:
    return compound({"a": b"a" * 5_000, "b": b"b"}, tree={1: (2, 2), 2: (1, 1)})


def package_component_is_the_package() -> bytes:
    whole = package(Package(components=tuple(Component(location=0, size=800) for _ in range(9))))
    return whole.ljust(800, b"\0")


def package_counts_false() -> bytes:
    return package(Package(components=(Component(size=MOST), Component(location=MOST))))


def capsule_items_overlap() -> bytes:
    return capsule(Capsule(payloads=(Payload(image(Image(blocks=1))),) * 200, offsets=(1_616,) * 200))


def capsule_item_is_the_list() -> bytes:
    return capsule(Capsule(offsets=(0,)))


def volumes_40_deep() -> bytes:
    return nested(volume(), 40)


def tree_10_000_deep() -> bytes:
    names = Names()
    open_, close = struct.pack(">I", 1) + b"a\0\0\0", struct.pack(">I", 2)
    return tree(tokens(names, "", {})[:-4] + open_ * 10_000 + close * 10_001, names)


def tree_long_name() -> bytes:
    names = Names()
    return tree(tokens(names, "n" * LONG, {"p" * LONG: b"v"}), names)


def roms_by_the_hundred() -> bytes:
    return rom(*(Image(blocks=1, last=False) for _ in range(300)))


def rom_points_at_itself() -> bytes:
    return image(Image(pcir_at=0x1C, pnp=(b"Heron",), extra={0x18: b"\0\0", 0x1A: b"\x18\0", 0x16: b"\x16\0"}))


def zip_long_names() -> bytes:
    return archive(Entry(b"n" * LONG), Entry(b"../" * 21_845), comment=b"c" * LONG)


def zip_4_gib() -> bytes:
    return archive(*(Entry(b"%d" % one, method=one, size=MOST, packed_size=MOST) for one in (0, 8, 12, 14)))


def zip_overlaps() -> bytes:
    return archive(*(Entry(b"%d" % number, bytes(4_000), offset=0) for number in range(300)))


def zip_member_is_its_directory() -> bytes:
    """The member's bytes go on over the directory that lists it."""
    made = archive(Entry(b"a", b"x" * 10))
    return archive(Entry(b"a", b"x" * 10, size=len(made) - 31, packed_size=len(made) - 31))


def zips_200_deep() -> bytes:
    data = b"deep inside"
    for _ in range(200):
        data = archive(Entry(b"in.zip", data))
    return data


def zip_bomb() -> bytes:
    return archive(*(Entry(b"%d" % number, ZEROS, method=8) for number in range(3)))


def gzips_in_gzips() -> bytes:
    data = ZEROS
    for _ in range(8):
        data = gzip.compress(data, 9, mtime=0)
    return data


def gzip_unpacks_to_itself() -> bytes:
    return gzip_of_itself()


def gzip_many_members() -> bytes:
    return gzip.compress(b"", mtime=0) * 20_000


def bzip2_bomb() -> bytes:
    return bz2.compress(ZEROS) * 2


def xz_bomb() -> bytes:
    return lzma.compress(ZEROS)


def xz_many_streams() -> bytes:
    return lzma.compress(b"a", preset=0) * 3_000


def _tar(form: int, *names: str, size: int = 0, link: str = "") -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w", format=form) as made:
        for name in names:
            item = tarfile.TarInfo(name)
            if link:
                item.type, item.linkname = tarfile.LNKTYPE, link
            made.addfile(item)
    data = bytearray(out.getvalue())
    if size:
        data[124:136] = b"\x80" + size.to_bytes(11, "big")
        data[148:156] = b" " * 8
        data[148:156] = b"%06o\0 " % sum(data[:512])
    return bytes(data)


def tar_long_names() -> bytes:
    return _tar(tarfile.GNU_FORMAT, "n" * LONG, "../" * 20_000) + _tar(tarfile.PAX_FORMAT, "é" * LONG)


def tar_2_to_the_80() -> bytes:
    return _tar(tarfile.GNU_FORMAT, "a", size=1 << 80)


def tar_link_to_itself() -> bytes:
    return _tar(tarfile.USTAR_FORMAT, "a", link="a")


def tar_headers_only() -> bytes:
    return _tar(tarfile.USTAR_FORMAT, *(str(number) for number in range(3_000)))


def cpio_4_gib() -> bytes:
    return b"070701" + b"00000000" * 6 + b"FFFFFFFF" + b"00000000" * 4 + b"FFFFFFFF" + b"00000000"


def ar_long() -> bytes:
    return b"!<arch>\n" + b"debian-binary   0           0     0     100644  9999999999`\n2.0\n"


def rpm_counts_false() -> bytes:
    lead = b"\xed\xab\xee\xdb\3\0" + bytes(90)
    return lead + b"\x8e\xad\xe8\1\0\0\0\0" + b"\xff" * 8 + bytes(64)


def zip_of_zips_sharing() -> bytes:
    """Sixteen names, each a zip of sixteen: more members than bytes."""
    data = b"x"
    for _ in range(5):
        data = archive(*(Entry(b"%x" % number, data, method=8) for number in range(16)))
    return data


def deflate_of_empty_blocks() -> bytes:
    """A million blocks that hold nothing."""
    packed = b"\0\0\0\xff\xff" * 100_000 + b"\1\0\0\xff\xff"
    return b"\x1f\x8b\x08" + bytes(7) + packed + struct.pack("<LL", zlib.crc32(b""), 0)


TRAPS: dict[str, Callable[[], bytes]] = {
    name: made for name, made in list(globals().items())
    if callable(made) and getattr(made, "__module__", "") == __name__ and not name.startswith("_")
}  # fmt: skip
