"""From image to image, and what lies between and behind: each oddity alone, and nothing else told."""

import struct

import pytest

from catalogue.formats import rom_walk
from catalogue.formats.limits import MAX_IMAGES
from catalogue.formats.rom_walk import Walked, walk
from catalogue.formats.view import BytesView
from tests.formats.build_rom import Made, efi, image, rom


def walked(data: bytes) -> Walked:
    found = walk(BytesView(data))
    if found.images:
        assert_covers(found, len(data))
    return found


def assert_covers(found: Walked, size: int) -> None:
    """The spans stand in order, touch, and cover the whole file."""
    at = 0
    for span in found.spans:
        assert span.offset == at
        assert span.length > 0
        at += span.length
    assert at == size


def told(found: Walked) -> list[tuple[str, int | None]]:
    """Every fault and note, image by image, then those of the file."""
    each = [one for image in found.images for one in (*image.reading.faults, *image.reading.notes)]
    return [(one.code, one.offset) for one in (*each, *found.notes)]


def kinds(found: Walked) -> list[str]:
    return [image.reading.kind.removeprefix("option-rom/") for image in found.images]


def test_one_image():
    found = walked(image(Made()))
    assert (kinds(found), told(found)) == (["legacy-x86"], [])


def test_images_end_to_end():
    found = walked(rom(Made(last=False), Made(code_type=1, last=False), efi(last=False), efi(machine=0xAA64)))
    assert (kinds(found), told(found)) == (["legacy-x86", "open-firmware", "efi", "efi"], [])
    assert [one.reading.offset for one in found.images] == [0, 1024, 2048, 3584]


@pytest.mark.parametrize("fill", [b"\xff", b"\x00", b"\xff\x00"])
def test_padding_is_odd(fill: bytes):
    found = walked(image(Made()) + fill * 300)
    assert told(found) == [("rom-odd", 1024)]
    assert found.spans[-1].name == "padding"


def test_data_after_the_end():
    found = walked(image(Made()) + b"\xff" * 100 + b"data" + b"\xff" * 20)
    assert told(found) == [("data-after-end", 1124)]
    assert [(one.name, one.offset, one.length) for one in found.spans[1:]] == [
        ("padding", 1024, 100),
        ("data after the end", 1124, 4),
        ("padding", 1128, 20),
    ]


def test_data_right_after_the_end():
    found = walked(image(Made()) + b"data")
    assert told(found) == [("data-after-end", 1024)]
    assert [one.name for one in found.spans] == ["legacy x86", "data after the end"]


@pytest.mark.parametrize("tail", [b"", b"\xff" * 512, b"\x00" * 700])
def test_a_missing_last_bit_before_the_end_or_padding_is_odd(tail: bytes):
    found = walked(image(Made(last=False)) + tail)
    assert told(found) == [("rom-odd", 0x31), *([("rom-odd", 1024)] if tail else [])]


def test_a_length_that_leads_to_no_image_is_damage():
    """Neither padding nor an image follows, and the last-image bit is not set."""
    found = walked(image(Made(last=False)) + b"code")
    assert told(found) == [("rom-damaged", 0x2C), ("data-after-end", 1024)]


def test_a_length_too_long_by_one_block_is_damage():
    found = walked(rom(Made(last=False, extra={0x2C: struct.pack("<H", 3)}), efi()))
    assert ("rom-damaged", 0x2C) in told(found)
    assert kinds(found) == ["legacy-x86"]


def test_a_length_too_short_by_one_block_is_damage_and_the_next_image_hidden():
    first = Made(last=False, blocks=3, initial_blocks=2, extra={0x2C: struct.pack("<H", 2)})
    found = walked(rom(first, efi()))
    assert kinds(found) == ["legacy-x86", "efi"]
    assert told(found) == [("rom-damaged", 0x2C), ("image-hidden", 0x2C), ("data-after-end", 1024)]
    assert found.images[1].reading.value("hidden") is True


def test_an_image_behind_the_last_bit_is_hidden():
    found = walked(rom(Made(), efi(), efi(machine=0xAA64)))
    assert kinds(found) == ["legacy-x86", "efi", "efi"]
    assert told(found) == [("image-hidden", 0x31), ("image-hidden", 0x31)]
    hidden = next(one for one in found.images[1].reading.fields if one.name == "hidden")
    assert (hidden.value, hidden.offset, hidden.length) == (True, 0x31, 1)
    assert found.images[0].reading.value("hidden") is None


def test_roms_joined_with_padding_between():
    found = walked(image(Made()) + b"\xff" * 1024 + image(efi()))
    assert kinds(found) == ["legacy-x86", "efi"]
    assert told(found) == [("image-hidden", 0x31), ("rom-odd", 1024)]


def test_a_missing_last_bit_before_padding_hides_what_follows():
    found = walked(image(Made(last=False)) + b"\xff" * 1024 + image(efi()))
    assert told(found) == [("rom-odd", 0x31), ("image-hidden", 0x2C), ("rom-odd", 1024)]


def test_an_isa_style_image_ends_the_chain():
    found = walked(rom(Made(pcir_at=None), efi()))
    assert kinds(found) == ["isa", "efi"]
    assert told(found) == [("rom-odd", 0x18), ("image-hidden", 2)]


def test_an_isa_style_image_behind_the_last_bit_is_unexplained_data():
    """It has no mark but 55AAh and a sum, which is not enough where no image leads to it."""
    found = walked(rom(Made(), Made(pcir_at=None)))
    assert (kinds(found), told(found)) == (["legacy-x86"], [("data-after-end", 1024)])


def test_an_isa_style_image_in_the_chain():
    found = walked(rom(Made(last=False), Made(pcir_at=None)))
    assert kinds(found) == ["legacy-x86", "isa"]
    assert told(found) == [("rom-odd", 1024 + 0x18)]


def test_images_inside_one_whose_length_is_wrong():
    """The first image claims to reach past the end; what lies inside it is found, and cuts its span short."""
    found = walked(rom(Made(last=False, extra={0x2C: b"\xff\xff"}), efi()))
    assert kinds(found) == ["legacy-x86", "efi"]
    assert told(found) == [("rom-damaged", 0x2C), ("image-hidden", 0x2C)]


@pytest.mark.parametrize("made", [Made(), efi()], ids=["legacy", "efi"])
def test_an_image_of_no_length(made: Made):
    found = walked(rom(Made(**{**vars(made), "extra": {0x2C: b"\0\0"}}), efi()))
    assert [one.offset for one in found.spans[:2]] == [0, len(image(made))]
    assert found.images[1].reading.value("hidden") is True


def test_a_broken_image_without_a_length_of_its_own_hides_what_follows():
    cut = image(Made(last=False))[:512].ljust(1024, b"\x90")
    damaged = cut[:0x1C] + b"XXXX" + cut[0x20:]
    found = walked(damaged + image(efi()))
    assert [image.name for image in found.images] == ["legacy header without PCI Data Structure", "EFI x86-64"]
    assert found.images[1].reading.value("hidden") is True


def test_vendors_that_disagree_are_odd():
    found = walked(rom(Made(last=False), efi(vendor=0xF567)))
    assert told(found) == [("rom-odd", 0)]


def test_vendor_0_disagrees_with_nobody():
    found = walked(rom(Made(last=False), efi(vendor=0)))
    assert told(found) == [("rom-odd", 1024 + 0x20)]


def test_many_images_are_bounded():
    found = walked(image(Made(blocks=1, last=False)) * (MAX_IMAGES + 3))
    assert len(found.images) == MAX_IMAGES
    assert told(found) == [("data-after-end", 512 * MAX_IMAGES)]
    assert found.spans[-1].name == "not looked at"


def test_as_many_as_are_read():
    found = walked(image(Made(blocks=1, last=False)) * (MAX_IMAGES - 1) + image(Made(blocks=1)))
    assert len(found.images) == MAX_IMAGES
    assert told(found) == []


def test_the_look_behind_is_bounded(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(rom_walk, "MAX_ROM_BYTES", 4096)
    found = walked(image(Made()) + b"\xff" * 8192)
    assert told(found) == [("rom-odd", 1024), ("data-after-end", 4096)]
    reaching = walked(image(Made(blocks=16)))
    assert told(reaching) == []


def test_headers_are_found_at_any_block(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(rom_walk, "_AT_ONCE", 1024)
    lone = b"\x55\xaa".ljust(512, b"\0")  # 55AAh alone is no image
    found = walked(image(Made()) + bytes(512) + lone + b"\x55".ljust(512, b"\0") + image(efi()))
    assert [one.reading.offset for one in found.images] == [0, 2560]


def test_none():
    assert walk(BytesView(b"")).images == ()
    assert walk(BytesView(b"\x55\xab" + bytes(600))).images == ()
