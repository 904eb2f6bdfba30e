"""One image: which structure it has, how long it is, and each way a real one goes wrong."""

import struct

import pytest

from catalogue.formats.rom_image import has_header, read_image
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import CardId
from tests.formats.build_rom import Made, efi, image

CONTRACT = [
    "offset",
    "length",
    "code_type",
    "vendor_id",
    "device_id",
    "device_list",
    "class_code",
    "structure_revision",
    "code_revision",
]
"""The command line's contract, "For an option ROM": what every image with a PCI Data Structure has, in this order."""


def read(data: bytes, before: int = 512):
    found = read_image(BytesView(bytes(before) + data), before)
    assert found is not None
    return found


def values(data: bytes) -> dict[str, object]:
    return {one.name: one.value for one in read(data).reading.fields}


def faults(data: bytes) -> list[tuple[str, int | None]]:
    return [(one.code, None if one.offset is None else one.offset - 512) for one in read(data).reading.faults]


def notes(data: bytes) -> list[tuple[str, int | None]]:
    return [(one.code, None if one.offset is None else one.offset - 512) for one in read(data).reading.notes]


def test_legacy():
    data = image(Made(devices=(0x64, 0x65)))
    found = values(data)
    assert list(found)[:12] == [*CONTRACT, "initialisation_size", "checksum_ok", "last_image"]
    assert list(found.values())[:12] == [
        512,
        1024,
        0,
        0xF234,
        0x64,
        (0x64, 0x65),
        0x010700,
        3,
        0x0102,
        1024,
        True,
        True,
    ]
    assert found["pcir_offset"] == 0x1C
    assert read(data).reading.kind == "option-rom/legacy-x86"
    assert read(data).reading.ids == (CardId(0xF234, 0x64, (0x64, 0x65), 0x010700),)
    assert (faults(data), notes(data)) == ([], [])


def test_efi():
    data = image(efi())
    found = values(data)
    assert list(found)[:10] == [*CONTRACT, "initialisation_size"]
    assert {name: found[name] for name in ("efi_subsystem", "efi_machine", "efi_compression", "efi_image_offset")} == {
        "efi_subsystem": 11,
        "efi_machine": 0x8664,
        "efi_compression": 0,
        "efi_image_offset": 0x80,
    }
    assert "checksum_ok" not in found
    assert found["last_image"] is True
    assert [one.kind for one in read(data).reading.parts] == ["efi-driver"]
    assert (faults(data), notes(data)) == ([], [])


@pytest.mark.parametrize(
    ("code_type", "kind", "name"),
    [
        (1, "option-rom/open-firmware", "Open Firmware"),
        (2, "option-rom/pa-risc", "PA-RISC"),
        (4, "option-rom/reserved", "code type 04h"),
        (0xFF, "option-rom/reserved", "code type FFh"),
    ],
)
def test_other_code_types(code_type: int, kind: str, name: str):
    data = image(Made(code_type=code_type))
    found = read(data)
    assert (found.reading.kind, found.name, values(data)["code_type"]) == (kind, name, code_type)
    assert found.reading.title == f"{name}; F234:0064"
    assert "checksum_ok" not in values(data)
    assert "initialisation_size" not in values(data)
    assert (faults(data), notes(data)) == ([], [])


@pytest.mark.parametrize("at", [0x1C, 0x40, 0x200, 0x99DC])
def test_the_structure_lies_anywhere(at: int):
    """Real ones lie as far as 99DCh."""
    data = image(Made(pcir_at=at, blocks=100))
    assert values(data)["pcir_offset"] == at
    assert (faults(data), notes(data)) == ([], [])


def test_the_pointer_is_unsigned():
    data = image(Made(pcir_at=0xFFE0, blocks=130))
    assert values(data)["pcir_offset"] == 0xFFE0
    assert faults(data) == []


@pytest.mark.parametrize("code_type", [0, 2, 3, 9])
def test_a_structure_off_a_4_byte_boundary_is_damage(code_type: int):
    made = efi(pcir_at=0x1E) if code_type == 3 else Made(pcir_at=0x1E, code_type=code_type)
    assert faults(image(made)) == [("rom-damaged", 0x18)]


def test_open_firmware_may_have_it_anywhere():
    assert faults(image(Made(pcir_at=0x1D, code_type=1))) == []


@pytest.mark.parametrize("pointer", [0, 0x41, 0x100, 0xFFFF])
@pytest.mark.parametrize("made", [Made(pcir_at=0x40), efi(pcir_at=0x40)], ids=["legacy", "efi"])
def test_a_pointer_into_code_is_damage_and_the_structure_is_found(made: Made, pointer: int):
    """The sum holds: only the pointer is wrong. The IDs are still told, so that a kit can say why it refuses."""
    data = image(Made(**{**vars(made), "extra": {0x18: struct.pack("<H", pointer)}}))
    assert faults(data) == [("rom-damaged", 0x18)]
    assert values(data)["vendor_id"] == 0xF234
    assert values(data)["pcir_offset"] == 0x40


def test_efi_without_a_structure():
    data = image(efi(extra={0x1C: b"XXXX"}))
    found = read(data)
    assert found.reading.kind == "option-rom/efi"
    assert found.broken
    assert found.takes == 1536
    assert found.reading.ids == ()
    assert faults(data) == [("rom-damaged", 0x18)]
    assert faults(data[:-1]) == [("rom-damaged", 0x18), ("rom-damaged", 2)]


def test_isa_style_and_damaged():
    assert read(image(Made(pcir_at=None))).reading.kind == "option-rom/isa"
    assert read(image(Made(extra={0x1C: b"XXXX"}))).reading.kind == "option-rom/isa"
    assert read(image(Made(extra={0x1C: b"XXXX"}, fix_sum=False))).reading.kind == "option-rom"


def test_image_length_0():
    assert faults(image(Made(extra={0x2C: b"\0\0"}))) == [("rom-damaged", 0x2C)]
    found = faults(image(efi(extra={0x2C: b"\0\0"})))
    assert found[0] == ("rom-damaged", 0x2C)


@pytest.mark.parametrize("blocks", [3, 0xFFFF])
def test_an_image_past_the_end(blocks: int):
    data = image(Made(extra={0x2C: struct.pack("<H", blocks)}))
    assert faults(data) == [("rom-damaged", 0x2C)]
    assert read(data).broken
    assert values(data)["length"] == blocks * 512


def test_a_cut_image():
    data = image(Made())
    assert faults(data[:-1]) == [("rom-damaged", 0x2C), ("rom-damaged", 2)]
    assert faults(data[:0x30]) == [("rom-damaged", 0x1C)]
    assert "vendor_id" not in values(data[:0x30])
    assert read(data[:0x30]).reading.ids == ()


def test_the_larger_of_two_lengths_is_taken():
    """Legacy 02h above PCIR+10h is odd while its sum holds; the image takes the larger."""
    data = image(Made(blocks=2, extra={0x2C: b"\x01\0"}))
    assert (values(data)["length"], read(data).takes) == (1024, 1024)
    assert (faults(data), notes(data)) == ([], [("rom-odd", 2)])


def test_but_not_over_the_next_image():
    first = image(Made(blocks=2, last=False, extra={0x2C: b"\x01\0"}))
    data = first[:512] + image(efi())
    found = read(data)
    assert found.takes == 512
    assert ("rom-odd", 2) in notes(data)


def test_a_smaller_initialisation_size_is_usual():
    data = image(Made(blocks=4, initial_blocks=2))
    assert (values(data)["initialisation_size"], values(data)["length"]) == (1024, 2048)
    assert (faults(data), notes(data)) == ([], [])
    assert [one.name for one in read(data).spans] == ["legacy x86", "legacy x86, beyond its initialisation size"]


def test_vendor_0():
    data = image(Made(vendor=0))
    assert (faults(data), notes(data)) == ([], [("rom-odd", 0x20)])


def test_a_structure_outside_its_image_is_damage():
    first = image(Made(blocks=1, extra={0x18: struct.pack("<H", 0x220)}))
    behind = b"\x90" * 32 + image(Made(blocks=1))[0x1C:0x38].ljust(480, b"\x90")
    assert faults(first + behind) == [("rom-damaged", 0x18)]


def test_code_type_changed():
    legacy = image(Made(extra={0x30: b"\x03"}))
    assert faults(legacy) == [("rom-damaged", 4)]
    fcode = image(Made(extra={0x30: b"\x01"}))
    assert faults(fcode) == [("rom-damaged", 2)]


def test_unused_space_at_the_end_is_told():
    data = image(Made(blocks=4, initial_blocks=1, fill=b"\xff"))
    assert [(one.name, one.offset - 512, one.length) for one in read(data).spans] == [
        ("legacy x86", 0, 512),
        ("legacy x86, unused", 512, 1536),
    ]


@pytest.mark.parametrize(
    ("data", "plain"),
    [
        (image(Made()), True),
        (image(efi(extra={0x18: b"\0\0"})), True),  # the EFI signature is enough
        (image(Made(pcir_at=None)), False),
        (image(Made())[:0x19], False),
        (b"MZ" + image(Made())[2:], False),
    ],
)
def test_plain_headers(data: bytes, plain: bool):
    assert has_header(BytesView(b"." * 7 + data), 7) is plain


def test_a_boot_sector_is_no_image():
    """55AAh at 1FEh marks a boot sector, not an option ROM."""
    sector = b"\xeb\x3c\x90".ljust(510, b"\0") + b"\x55\xaa"
    assert read_image(BytesView(sector), 0) is None
    assert read_image(BytesView(sector + bytes(512)), 510) is None
