"""File systems and disks for the readers' battery."""

from __future__ import annotations

from tests.contracts.sample import Sample
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

SAMPLES = (
    Sample("fat", "FAT12", "archive/fat", FAT12),
    Sample("fat", "FAT32", "archive/fat", FAT32),
    Sample("fat", "FAT32, first boot sector gone", "archive/fat", bytes(512) + FAT32[512:]),
    Sample("fat", "cut short", "archive/fat", FAT12[:5_000]),
    Sample("disk", "MBR", "archive/disk", MBR),
    Sample("disk", "logical partitions", "archive/disk", LOGICAL),
    Sample("disk", "GPT", "archive/disk", GPT),
    Sample("disk", "GPT, first header damaged", "archive/disk", GPT[:600] + b"\xff" + GPT[601:]),
)
