"""What is built is what is read: structured ROMs by chance, and the reading as a whole."""

import struct
import sys
import time
import timeit

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.formats.limits import MAX_STRINGS
from catalogue.formats.option_rom import READER, looks_like, read
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import CardId, Reading, VersionClaim
from tests.formats.build_rom import Made, efi, image, rom

WORD = st.integers(0, 0xFFFF)
IDS = {
    "vendor": st.integers(1, 0xFFFF),
    "device": WORD,
    "class_code": st.integers(0, 0xFFFFFF),
    "code_revision": WORD,
}
LISTS = st.lists(st.integers(1, 0xFFFF), max_size=20).map(tuple)
LEGACY = st.builds(
    Made,
    code_type=st.just(0),
    blocks=st.integers(3, 255),
    initial_blocks=st.sampled_from([None, 3]),
    devices=LISTS,
    revision=st.sampled_from([0, 3]),
    pcir_at=st.sampled_from([0x1C, 0x20, 0x300]),
    pnp=st.lists(st.sampled_from([b"Heron 7.11.00", b"Plover"]), max_size=2).map(tuple),
    undi=st.booleans(),
    **IDS,
)
EFI = st.builds(
    efi,
    blocks=st.integers(3, 300),
    revision=st.sampled_from([0, 3]),
    devices=st.lists(st.integers(1, 0xFFFF), max_size=20).map(tuple),
    machine=st.sampled_from([0x8664, 0xAA64, 0x014C]),
    subsystem=st.sampled_from([10, 11, 12]),
    compression=st.sampled_from([0, 1]),
    **IDS,
)
OTHER = st.builds(
    Made,
    code_type=st.sampled_from([1, 2, 4, 0xFE]),
    blocks=st.integers(2, 300),
    fcode=st.binary(min_size=1, max_size=200),
    **IDS,
)
ROMS = st.lists(st.one_of(LEGACY, EFI, OTHER), min_size=1, max_size=5)
PADDING = st.builds(lambda fill, count: fill * count, st.sampled_from([b"\x00", b"\xff"]), st.integers(0, 2_000))


def whole(data: bytes) -> Reading:
    reading = read(BytesView(data))
    assert reading is not None
    return reading


def image_values(part: Reading) -> dict[str, object]:
    return {one.name: one.value for one in part.fields}


@settings(deadline=None)
@given(ROMS, PADDING)
def test_what_is_built_is_what_is_read(images: list[Made], padding: bytes):
    for made in images:
        made.last = made is images[-1]
    reading = whole(rom(*images) + padding)
    assert not reading.faults
    assert len(reading.parts) == len(images)
    at = 0
    for made, part in zip(images, reading.parts, strict=True):
        found = image_values(part)
        listed = made.devices if made.revision == 3 else ()
        want = {
            "offset": at,
            "length": made.blocks * 512,
            "code_type": made.code_type,
            "vendor_id": made.vendor,
            "device_id": made.device,
            "device_list": listed,
            "class_code": made.class_code,
            "structure_revision": made.revision,
            "code_revision": made.code_revision,
            "last_image": made.last,
        }
        if made.code_type in (0, 3):
            want["initialisation_size"] = made.initial * 512
        if made.code_type == 0:
            want["checksum_ok"] = True
        if made.code_type == 3:
            want |= {
                "efi_subsystem": made.subsystem,
                "efi_machine": made.machine,
                "efi_compression": made.compression,
                "efi_image_offset": made.efi_offset,
            }
        assert {name: found.get(name) for name in want} == want
        assert "hidden" not in found
        assert ("checksum_ok" in found) == (made.code_type == 0)
        assert part.ids == (CardId(made.vendor, made.device, listed, made.class_code),)
        assert (part.offset, part.length) == (at, made.blocks * 512)
        assert [one.kind for one in part.parts] == nested(made)
        packed = made.code_type == 3 and made.compression == 1
        assert [one.inside for one in part.parts] == ["unpacked" if packed else ""] * len(nested(made))
        at += made.blocks * 512
    assert set(reading.ids) == {card for part in reading.parts for card in part.ids}
    assert len(set(reading.ids)) == len(reading.ids)
    assert sum(one.length for one in reading.spans) == reading.length == at + len(padding)


def nested(made: Made) -> list[str]:
    """The kinds of an image's own parts."""
    if made.code_type == 3:
        kind = "efi-application" if made.subsystem == 10 else "efi-driver"
        return [kind]
    if made.code_type == 1:
        return ["fcode-program"]
    if made.code_type == 0:
        return ["pnp-header"] * len(made.pnp) + ["undi-structure"] * made.undi
    return []


@settings(deadline=None, max_examples=60)
@given(LEGACY, st.data())
def test_one_changed_byte_under_the_sum_is_told(made: Made, data: st.DataObject):
    """ "All bytes over the initialisation size sum to 0 modulo 256", so no single changed byte goes unseen.

    But for that size itself: another one is another sum, which holds by chance once in 256 times.
    """
    rom_bytes = bytearray(image(made))
    at = data.draw(st.integers(3, made.initial * 512 - 1))
    rom_bytes[at] ^= data.draw(st.integers(1, 255))
    reading = read(BytesView(bytes(rom_bytes)))
    assert reading is None or reading.faults


@settings(deadline=None, max_examples=60)
@given(ROMS)
def test_every_field_lies_where_it_says(images: list[Made]):
    data = rom(*images)
    for part in whole(data).parts:
        for one in part.fields:
            if isinstance(one.value, int) and not isinstance(one.value, bool) and one.offset is not None:
                raw = int.from_bytes(data[one.offset : one.offset + one.length], "little")
                assert one.value in (raw, raw * 512, raw & 0x80), one


def test_kind_and_title():
    assert whole(image(Made())).kind == "option-rom/legacy-x86"
    assert whole(image(Made())).title == "Option ROM, legacy x86; F234:0064"
    assert whole(image(Made(pcir_at=None))).title == "Option ROM, ISA-style"
    both = whole(rom(Made(last=False), efi(device=0x65)))
    assert both.kind == "option-rom"
    assert both.title == "Option ROM, 2 images: legacy x86, EFI x86-64; F234:0064, F234:0065"
    assert whole(rom(Made(last=False), Made())).kind == "option-rom"


def test_equal_ids_stand_once():
    assert whole(rom(Made(last=False), Made(), efi(class_code=2))).ids == (
        CardId(0xF234, 0x64, (), 0x010700),
        CardId(0xF234, 0x64, (), 2),
    )


def test_faults_and_notes_of_the_images_are_the_piece_s():
    reading = whole(rom(Made(vendor=0, last=False, pnp=(b"x",), extra={0x89: b"\1"}), Made(fix_sum=False)))
    assert [one.code for one in reading.faults] == ["rom-damaged"]
    assert [one.code for one in reading.notes] == ["rom-odd", "rom-odd"]
    assert reading.parts[0].notes == reading.notes


def test_versions():
    """What a `$PnP` header claims stands before strings; each string belongs to the image it lies in."""
    data = rom(
        Made(last=False, pnp=(b"Heron 7.11",), extra={0x300: b"\0loader 1.2.3\0"}),
        efi(blocks=4, extra={0x700: b"\0driver 18.00.01\0"}),
    )
    data += b"\0tool 9.9.9\0"
    reading = whole(data)
    pnp = VersionClaim("7.11", "$PnP product name", 0x190 + 6)
    assert reading.parts[0].versions[0] == pnp
    assert "1.2.3" in [one.value for one in reading.parts[0].versions]
    assert [one.value for one in reading.parts[1].versions] == ["18.00.01"]
    assert reading.versions[0] == pnp
    assert "9.9.9" in [one.value for one in reading.versions]
    for one in reading.versions:
        assert one.offset is not None
        assert data[one.offset :].startswith(one.value.encode())


def test_versions_are_bounded():
    text = b"\0".join(b"v1.2.%d" % at for at in range(400))
    reading = whole(image(Made(blocks=20, pnp=(b"Heron 7.11",), extra={0x400: text})))
    assert len(reading.versions) == len(reading.parts[0].versions) == MAX_STRINGS


@pytest.mark.parametrize(
    ("data", "looks"),
    [
        (b"", Looks.NO),
        (b"\x55", Looks.NO),
        (b"\x55\xaa", Looks.MAYBE),
        (image(Made()), Looks.SURE),
        (image(efi()), Looks.SURE),
        (image(Made(pcir_at=None)), Looks.MAYBE),
        (b"\xeb\x3c\x90".ljust(510, b"\0") + b"\x55\xaa", Looks.NO),
    ],
)
def test_looks(data: bytes, looks: Looks):
    assert looks_like(BytesView(data)) is looks


def test_nothing_speaks_for_a_rom():
    assert read(BytesView(b"\x55\xaa" + b"U" * 600)) is None


def test_kinds_are_declared():
    assert set(READER.kinds) >= {whole(image(Made(code_type=code))).kind for code in range(256) if code != 3}
    assert "option-rom/efi" in READER.kinds


def test_a_pointer_astray_into_another_image_s_structure():
    """The pointer leads past the image to the next one's structure: the IDs there are not this image's."""
    first = Made(last=False, blocks=1, extra={0x18: struct.pack("<H", 512 + 0x1C)})
    reading = whole(rom(first, efi()))
    assert reading.faults


@pytest.mark.skipif(sys.gettrace() is not None, reason="a tracer slows it tenfold")
def test_one_rom_takes_little_time():
    """measures.md: reading one option ROM, under 1 ms uncompressed; ten times that here, where other tests run too."""
    view = BytesView(
        rom(Made(blocks=100, last=False, devices=(1, 2), pnp=(b"Heron 7.11",), undi=True), efi(blocks=300))
    )
    assert min(timeit.repeat(lambda: read(view), number=20, repeat=5, timer=time.process_time)) / 20 < 0.01
