"""Update packages, firmware volumes and what else carries firmware, for the readers' battery."""

from __future__ import annotations

from tests.contracts.sample import Sample
from tests.formats import build_pldm
from tests.formats.build_capsule import Made as Capsule
from tests.formats.build_capsule import Payload, capsule, edk2_header, signed
from tests.formats.build_hex import intel_hex, s_records
from tests.formats.build_pe import pe
from tests.formats.build_rom import Made, fcode_program, image, te
from tests.formats.build_tree import card_tree, dfu, image_tree, tag, uf2
from tests.formats.build_volume import (
    FFS3,
    File,
    compressed,
    crc_section,
    lzma_section,
    name,
    nested,
    section,
    sections,
    version,
    volume,
)
from tests.formats.build_volume import Made as Volume
from tests.formats.build_vpd import block, keyword, vpd

ROM = image(Made(blocks=1))

SAMPLES = (
    *(Sample("pldm-package", f"revision {one}", "pldm-package", build_pldm.full(one)) for one in (1, 2, 3, 4)),
    Sample(
        "pldm-package",
        "an option ROM as component",
        "pldm-package",
        build_pldm.package(build_pldm.Made(components=(build_pldm.Component(ROM),))),
    ),
    Sample("capsule", "one payload", "capsule", capsule()),
    Sample(
        "capsule",
        "driver, payloads of three versions, one signed with dependencies",
        "capsule",
        capsule(
            Capsule(
                header=0x20,
                drivers=(pe(),),
                payloads=(
                    Payload(version=1),
                    Payload(ROM, version=2, own=b"own"),
                    Payload(signed(b"\x01\x02\x03\x04\x05\x0d" + edk2_header(2, 1, ROM)), capabilities=3),
                ),
            )
        ),
    ),
    Sample(
        "capsule",
        "of another GUID",
        "capsule",
        capsule(Capsule("f2340011-0001-4002-8003-000000000064", content=ROM)),
    ),
    Sample("firmware-volume", "one file", "firmware-volume", volume()),
    Sample(
        "firmware-volume",
        "programs, versions, packed sections",
        "firmware-volume",
        volume(
            Volume(
                (
                    File(sections(section(0x10, pe()), name("Heron"), version("7.11", 3)), summed=True),
                    File(sections(section(0x12, te()), name("Pei")), 6, 2),
                    File(ROM, 1, 3),
                    File(compressed(sections(section(0x10, pe()), name("Packed"))), 7, 4),
                    File(lzma_section(volume()), 0x0B, 5),
                    File(crc_section(sections(section(0x19, ROM))), 2, 6),
                    File(b"", 0xF0, 7),
                ),
                system=FFS3,
                extended=bytes(range(16)),
            )
        ),
    ),
    Sample("firmware-volume", "volumes in volumes", "firmware-volume", nested(volume(), 3)),
    Sample("firmware-volume", "two and padding", "firmware-volume", volume() + b"\xff" * 512 + volume()),
    Sample("vpd", "identifier and both blocks", "vpd", vpd()),
    Sample("vpd", "read-only block alone, padded", "vpd", vpd(name=None, writable=b"").ljust(256, b"\xff")),
    Sample("vpd", "twice the same keyword", "vpd", vpd(more=keyword("V0", b"\x01") * 2)),
    Sample("vpd", "without sum", "vpd", b"\x82\x05\0Heron" + block(0x90, keyword("PN", b"H-10")) + b"\x78"),
    Sample("intel-hex", "an option ROM", "intel-hex", intel_hex({0x10000: ROM})),
    Sample("intel-hex", "far apart", "intel-hex", intel_hex({0: b"near", 0x7FFF0000: b"far", 0xFFFF: b"ab"})),
    Sample("intel-hex", "faulty line", "intel-hex", b":0100000055AA\n:0100010055A9\n:00000001FF\n"),
    Sample("s-record", "an option ROM", "s-record", s_records({0x1000: ROM})),
    Sample("s-record", "long addresses, gaps", "s-record", s_records({0: b"near", 0x8000_0000: b"far"}, 4)),
    Sample("device-tree", "a card's", "device-tree", card_tree()),
    Sample("device-tree", "an image tree", "device-tree", image_tree(ROM)),
    Sample("dfu-file", "an option ROM", "dfu-file", dfu(ROM)),
    Sample("dfu-file", "unknown bytes", "dfu-file", dfu(b"\x80\x81")),
    Sample("uf2", "an option ROM with a version", "uf2", uf2(ROM, tags=tag(0x9FC7BC, b"7.11.00"))),
    Sample("uf2", "one block", "uf2", uf2(b"\x80" * 9)),
    Sample("fcode", "a program", "fcode-program", fcode_program(b"\xb7" * 300)),
    Sample("fcode", "padded", "fcode-program", fcode_program(b"\xff\x0e\x00").ljust(64, b"\xff")),
)
