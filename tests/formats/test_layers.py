"""The bytes behind each part that lies unpacked, for every sample of the battery and for layers within layers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

import pytest

from catalogue import formats
from catalogue.formats.layers import UNPACKERS, layer_of
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.contracts.samples import SAMPLES
from tests.formats.build_hex import intel_hex
from tests.formats.build_pe import pe
from tests.formats.build_rom import efi, rom
from tests.formats.build_tree import uf2
from tests.formats.build_volume import File, Made, compressed, lzma_section, name, section, sections, volume

DRIVER = pe()
PACKED_ROM = rom(efi(compression=1, driver=DRIVER, blocks=6))
OTHER = sections(section(0x10, DRIVER), name("Other"))
MAGICS = {"pe": (0, b"MZ"), "te-image": (0, b"VZ"), "firmware-volume": (0x28, b"_FVH"), "option-rom": (0, b"\x55\xaa")}


def ways(reading: Reading, way: tuple[int, ...] = ()) -> Iterator[tuple[tuple[int, ...], Reading, Reading]]:
    """Every part with the way to it and its parent."""
    for at, part in enumerate(reading.parts):
        yield (*way, at), part, reading
        yield from ways(part, (*way, at))


def check(data: bytes) -> int:
    """Every part's bytes begin as its format does; how many parts lie a layer deeper."""
    view = BytesView(data)
    whole = formats.read(view)
    deeper = 0
    for way, part, parent in ways(whole):
        assert bool(part.layer) == (part.inside == "unpacked")
        found = layer_of(view, whole, way)
        assert found is not None, (way, part.title)
        deeper += part.layer > parent.layer
        if part.format in MAGICS:
            at, magic = MAGICS[part.format]
            assert found.at(part.offset + at, len(magic)) == magic, (way, part.title)
        if part.format == "decoded":
            assert hashlib.sha256(found.at(0, found.size)).hexdigest() == part.value("sha256")
    return deeper


@pytest.mark.parametrize("sample", SAMPLES, ids=str)
def test_every_sample(sample):
    check(sample.data)


def test_each_row_is_reached():
    reached = {
        parent.format
        for sample in SAMPLES
        for _, part, parent in ways(formats.read(BytesView(sample.data)))
        if part.layer > parent.layer
    } | {"option-rom-image"}
    assert check(PACKED_ROM) == 1
    assert reached == set(UNPACKERS)


@pytest.mark.parametrize(
    ("data", "layers"),
    [
        (intel_hex({0x1000: PACKED_ROM}), 2),
        (uf2(PACKED_ROM), 2),
        (intel_hex({0: PACKED_ROM, 0x7000_0000: PACKED_ROM}), 4),
        (volume(Made((File(lzma_section(section(0x17, volume(Made((File(compressed(OTHER)),))))), 0x0B),))), 2),
        (volume(Made((File(sections(section(0x19, PACKED_ROM), compressed(OTHER))),))), 2),
    ],
    ids=["driver in ROM in hex", "driver in ROM in UF2", "two stretches", "packed in packed", "ROM beside packed"],
)
def test_layers_in_layers(data, layers):
    assert check(data) == layers


def test_two_packed_sections_are_told_apart():
    """Both hold a program at the same offset; each part gets its own section's bytes."""
    first, second = pe(), PACKED_ROM
    data = volume(Made((File(sections(compressed(section(0x19, second)), compressed(section(0x10, first)))),)))
    view = BytesView(data)
    whole = formats.read(view)
    (file,) = whole.parts[0].parts
    assert [part.layer for part in file.parts] == [1, 1]
    bytes_of = [layer_of(view, whole, (0, 0, at)) for at in range(2)]
    assert bytes_of[0].at(4, len(second)) == second
    assert bytes_of[1].at(4, len(first)) == first


def test_what_is_not_there():
    view = BytesView(PACKED_ROM)
    whole = formats.read(view)
    assert layer_of(view, whole, (7,)) is None
    assert layer_of(view, whole, (0, 0, 0, 0)) is None
    assert layer_of(view, whole, ()) is view
    changed = BytesView(PACKED_ROM[:0x90] + b"\xff" * (len(PACKED_ROM) - 0x90))
    assert layer_of(changed, whole, (0, 0)) is None
