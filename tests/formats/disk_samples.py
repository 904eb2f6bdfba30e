"""File systems and disks for the readers' battery."""

from __future__ import annotations

from tests.contracts.sample import Sample
from tests.formats import build_iso, build_udf
from tests.formats.build_disk import gpt, gpt_entry, mbr, mbr_entry, put
from tests.formats.build_fat import FOLDER, LABEL, entry, fat, long

FAT12 = fat(
    entry(b"SALTMARSH  ", attributes=LABEL)
    + long("heron firmware.rom", b"HERONF~1.ROM")
    + entry(b"HERONF~1.ROM", 2, 1_100)
    + entry(b"NOTES", 5, attributes=FOLDER)
    + entry(b"\xe5OLD.ROM   "),
    chains=((2, 3, 4), (5,), (6,)),
    data={2: b"\x55\xaa" + bytes(range(200)) * 5, 5: entry(b"READ.ME", 6, 7), 6: b"by hand"},
)
FAT32 = fat(entry(b"HERON.ROM", 3, 600), bits=32, clusters=4, chains=((3, 5),), data={3: b"a" * 512, 5: b"b" * 88})
SMALL = fat(entry(b"A.ROM", 2, 5), clusters=3, chains=((2,),), data={2: b"piece"})
MBR = put(16 * 512, {0: mbr(mbr_entry(2, 7, 0x01, 0x80), mbr_entry(10, 6, 0x83)), 2: SMALL})
LOGICAL = put(
    16 * 512, {0: mbr(mbr_entry(1, 15, 0x05)), 1: mbr(mbr_entry(1, 7, 1), mbr_entry(9, 2, 5)), 2: SMALL,
               10: mbr(mbr_entry(1, 1, 0x83))},
)  # fmt: skip
GPT = gpt(gpt_entry(4, 10, "BENCH"), parts={4: SMALL})

ISO = build_iso.iso(
    {
        18: build_iso.folder(18, build_iso.record(b"HERON.ROM;1", 20, 1_000), build_iso.record(b"NOTES", 19, 2_048, 2)),
        19: build_iso.folder(19, build_iso.record(b"READ.ME;1", 21, 7)),
        20: b"\x55\xaa" + bytes(range(200)) * 5,
        21: b"by hand",
    }
)
_RR_FILE = build_iso.px(0o100644) + build_iso.ce(21, 0, 40)
_RR_NAME = build_iso.nm(b"heron firm", 1) + build_iso.nm(b"ware.rom")
ROCK_RIDGE = build_iso.iso(
    {
        16: build_iso.descriptor(blocks=28),
        17: build_iso.boot_record(24),
        18: build_iso.descriptor(2, 23, 28, b"%/E"),
        19: build_iso.terminator(),
        20: build_iso.folder(20, build_iso.record(b"HERON.ROM;1", 25, 7, use=_RR_FILE), use=build_iso.SP),
        21: _RR_NAME,
        23: build_iso.folder(23, build_iso.record("heron firmware.rom;1".encode("utf-16-be"), 25, 7)),
        24: build_iso.validation()
        + build_iso.boot_entry(26)
        + build_iso.section(0xEF, 1)
        + build_iso.boot_entry(27, 2),
        25: b"by hand",
    }
    | {16: build_iso.descriptor(root=20, blocks=28)},
    total=28,
)
UDF = build_udf.udf(
    {
        1: build_udf.root(
            build_udf.named("HERON.ROM", 2), build_udf.named("notes", 3, 2), build_udf.named("old", 9, 4)
        ),
        2: build_udf.file_entry(700, build_udf.short_ad(5, 512) + build_udf.short_ad(7, 188)),
        3: build_udf.file_entry(92, build_udf.short_ad(4, 92), build_udf.FOLDER),
        4: build_udf.PARENT + build_udf.identifier(b"\x10\x00\xfc", 6),
        5: b"a" * 512,
        6: build_udf.file_entry(7, b"by hand", how=build_udf.WITHIN, extended=True),
        7: b"b" * 188,
    }
)

SAMPLES = (
    Sample("fat", "FAT12", "archive/fat", FAT12),
    Sample("fat", "FAT32", "archive/fat", FAT32),
    Sample("fat", "FAT32, first boot sector gone", "archive/fat", bytes(512) + FAT32[512:]),
    Sample("fat", "cut short", "archive/fat", FAT12[:5_000]),
    Sample("iso", "primary tree", "archive/iso", ISO),
    Sample("iso", "Rock Ridge, Joliet, boot images", "archive/iso", ROCK_RIDGE),
    Sample("iso", "cut short", "archive/iso", ISO[: 20 * 2_048 + 100]),
    Sample("udf", "files and folders", "archive/udf", UDF),
    Sample("udf", "without its anchor", "archive/udf", UDF[:-512]),
    Sample("disk", "MBR", "archive/disk", MBR),
    Sample("disk", "logical partitions", "archive/disk", LOGICAL),
    Sample("disk", "GPT", "archive/disk", GPT),
    Sample("disk", "GPT, first header damaged", "archive/disk", GPT[:600] + b"\xff" + GPT[601:]),
)
