"""What lies inside a piece is read within a budget of depth, looks and bytes. Each of its bounds is reached here."""

import struct

import pytest

from catalogue import formats
from catalogue.formats import dfu_suffix, firmware_volume, inner, intel_hex, limits, s_record, uf2
from catalogue.formats.view import BytesView
from tests.contracts import battery
from tests.formats.build_hex import intel_hex as made_hex
from tests.formats.build_hex import s_records
from tests.formats.build_rom import Made, image
from tests.formats.build_tree import dfu
from tests.formats.build_tree import uf2 as made_uf2
from tests.formats.build_volume import volume

ROM = image(Made(blocks=1))


def test_offsets_count_in_the_outer_piece():
    view = BytesView(bytes(100) + ROM)
    found = inner.known_at(view, 100, len(ROM))
    assert found is not None
    assert (found.offset, found.parts[0].offset) == (100, 100)
    assert inner.known_at(view, 100, 0) is None
    assert inner.known_at(BytesView(b"\x80\x81"), 0, 2) is None


def test_unpacked_parts_are_marked():
    found = inner.known_unpacked(ROM)
    assert found is not None
    assert {found.inside, found.parts[0].inside} == {"unpacked"}
    assert inner.known_unpacked(b"") is None


def test_looks_and_bytes_are_bounded(monkeypatch: pytest.MonkeyPatch):
    view = BytesView(ROM)
    monkeypatch.setattr(inner, "MAX_INNER_LOOKS", 3)
    with inner.reading(view):
        assert [inner.known_at(view, 0, 512) is not None for _ in range(5)] == [True] * 3 + [False] * 2
    monkeypatch.undo()
    monkeypatch.setattr(inner, "MAX_INNER_BYTES", 0)
    with inner.reading(view):
        answers = [inner.known_at(view, 0, 512) is not None for _ in range(limits.MAX_INNER_RATIO + 2)]
    assert answers == [True] * limits.MAX_INNER_RATIO + [False] * 2


def test_depth_is_bounded_and_comes_back():
    view = BytesView(ROM)
    with inner.reading(view):
        for _ in range(2):
            with inner.reading(view), inner.reading(view), inner.reading(view), inner.reading(view):
                assert inner.known_at(view, 0, 512) is None
            assert inner.known_at(view, 0, 512) is not None


def test_unpacked_bytes_are_bounded():
    view = BytesView(ROM)
    assert inner.left_to_unpack() == limits.MAX_INNER_UNPACKED
    with inner.reading(view):
        inner.was_unpacked(1 << 20)
        assert inner.left_to_unpack() == limits.MAX_INNER_UNPACKED - (1 << 20)
    assert inner.left_to_unpack() == limits.MAX_INNER_UNPACKED


def test_a_failing_view_leaves_no_budget_behind():
    view = battery.FailingView(made_hex({0: ROM}), 3)
    with pytest.raises(OSError, match="medium"):
        formats.read(view)
    assert inner.left_to_unpack() == limits.MAX_INNER_UNPACKED


@pytest.mark.parametrize(("module", "text"), [(intel_hex, made_hex({0: ROM})), (s_record, s_records({0: ROM}))])
def test_long_hex_texts(module, text: bytes, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(module, "MAX_HEX_BYTES", len(text) // 2)
    notes = [one.text for one in formats.read(BytesView(text)).notes]
    assert f"Only its first {len(text) // 2} bytes were read." in notes


def test_many_faulty_lines():
    lines = [b":0100000055AA"] * 400 + [b":0100000055AB"] * 90
    reading = formats.read(BytesView(b"\n".join(lines)))
    assert len(reading.faults) == limits.MAX_HEX_FAULTS + 1  # and that there is no end record


def test_many_blocks(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(uf2, "MAX_UF2_BLOCKS", 1)
    reading = formats.read(BytesView(made_uf2(ROM)))
    assert reading.faults == ()
    assert reading.notes[0].text.startswith("It is not loaded whole: 1 blocks")
    monkeypatch.undo()
    monkeypatch.setattr("catalogue.formats.hex_memory.MAX_HEX_RUNS", 1)
    data = made_uf2(ROM)
    apart = data[:512] + data[512 : 512 + 12] + struct.pack("<I", 0x9000) + data[512 + 16 :]
    assert formats.read(BytesView(apart)).notes[0].text.startswith("It is not loaded whole")


def test_a_long_file_with_a_suffix(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(dfu_suffix, "MAX_DFU_BYTES", 16)
    reading = formats.read(BytesView(dfu(b"\x80")))
    assert reading.value("crc_ok") is None
    assert [one.code for one in reading.notes] == ["dfu-unread"]


def test_many_volumes_and_a_long_image(monkeypatch: pytest.MonkeyPatch):
    data = volume() * (limits.MAX_VOLUMES + 3)
    reading = firmware_volume.read(BytesView(data))
    assert reading is not None
    assert len(reading.parts) == limits.MAX_VOLUMES
    assert [one.code for one in reading.notes] == ["volume-unread"]
    monkeypatch.setattr(firmware_volume, "MAX_VOLUME_BYTES", 600)
    reading = firmware_volume.read(BytesView(data))
    assert reading is not None
    assert len(reading.parts) == 2
    assert reading.notes[0].text == "Volumes are looked for in its first 600 bytes only."
