"""Device trees by hand (Devicetree Specification 0.4, chapter 5) and by PyPI `fdt` both ways."""

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue import formats
from catalogue.formats import limits
from catalogue.formats.device_tree import read
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.contracts import battery
from tests.formats.build_rom import Made as Rom
from tests.formats.build_rom import image
from tests.formats.build_tree import Names, card_tree, image_tree, tokens, tree

TREE = (
    b"\xd0\x0d\xfe\xed"
    b"\x00\x00\x00\x6e"  # 04h total size: 110
    b"\x00\x00\x00\x38"  # 08h structure
    b"\x00\x00\x00\x68"  # 0Ch strings
    b"\x00\x00\x00\x28"  # 10h reserved memory
    b"\x00\x00\x00\x11"  # 14h version 17
    b"\x00\x00\x00\x10"  # 18h compatible with 16
    b"\x00\x00\x00\x00"  # 1Ch processor
    b"\x00\x00\x00\x06"  # 20h size of the strings
    b"\x00\x00\x00\x30"  # 24h size of the structure
    + bytes(16)  # 28h no reserved memory
    + b"\x00\x00\x00\x01\x00\x00\x00\x00"  # 38h the root
    b"\x00\x00\x00\x03\x00\x00\x00\x06\x00\x00\x00\x00Heron\0\0\0"  # 40h model
    b"\x00\x00\x00\x01a\0\0\0"  # 54h node a
    b"\x00\x00\x00\x02"  # 5Ch
    b"\x00\x00\x00\x02"  # 60h
    b"\x00\x00\x00\x09"  # 64h end
    b"model\0"
)


def sound(data: bytes) -> Reading:
    reading = formats.read(BytesView(data))
    battery.examine(reading, len(data))
    assert reading.kind == "device-tree"
    assert reading.faults == reading.notes == ()
    return reading


def test_every_field_by_hand():
    reading = sound(TREE)
    assert reading.title == "Device tree: Heron"
    assert {one.name: (one.value, one.offset) for one in reading.fields} == {
        "total_size": (110, 4),
        "structure_offset": (0x38, 8),
        "strings_offset": (0x68, 12),
        "reservations_offset": (0x28, 16),
        "version": (17, 20),
        "compatible_version": (16, 24),
        "boot_processor": (0, 28),
        "strings_size": (6, 32),
        "structure_size": (0x30, 36),
        "nodes": (2, None),
        "properties": (1, None),
    }
    root, a = reading.parts
    assert (root.title, root.offset, a.title, a.offset) == ("Node /", 0x38, "Node /a", 0x54)
    assert [(one.name, one.value, one.offset, one.length) for one in root.fields] == [("model", "Heron", 0x4C, 6)]


def test_values():
    reading = sound(card_tree())
    root, bus, flash = reading.parts
    assert root.value("compatible") == ("corvane,heron", "corvane,card")
    assert (bus.value("address_cells"), bus.value("mac_address"), bus.value("dma_coherent")) == (1, "0" * 12, True)
    assert (flash.value("reg"), flash.value("label")) == ((0, 0x10000), "boot")


def test_images_are_read():
    rom = image(Rom(blocks=1))
    reading = sound(image_tree(rom))
    assert reading.title == "Image tree: Heron"
    (part,) = [one for one in reading.parts if one.parts]
    assert part.title.startswith("Node /images/firmware-1: Option ROM")
    assert image_tree(rom)[part.parts[0].offset :][: len(rom)] == rom
    assert reading.ids == part.parts[0].ids != ()


def damaged(structure: bytes, names: Names, end: bytes = struct.pack(">I", 9)) -> str:
    data = tree(structure, names, end)
    reading = read(BytesView(data))
    assert reading is not None
    battery.examine(reading, len(data))
    assert {one.code for one in reading.faults} == {"tree-damaged"}
    return reading.faults[0].text


def test_damage():
    names = Names()
    root = tokens(names, "", {"model": b"x\0"})
    assert damaged(root, names, b"") == "A token 6D6F6465h is none."
    assert damaged(root[:-4], names) == "The tree ends inside a node."
    assert damaged(root + struct.pack(">I", 2), names) == "A node ends that never began."
    assert damaged(root + struct.pack(">I", 7), names) == "A token 00000007h is none."
    assert damaged(struct.pack(">III", 3, 0, 0), names) == "A property stands outside every node."
    assert damaged(root[:8] + struct.pack(">III", 3, 9999, 0), names) == "A property does not lie in the tree."
    assert damaged(root[:8] + struct.pack(">III", 3, 0, 77), names).startswith("A property's name")
    assert damaged(struct.pack(">I", 1) + b"x" * 400, names) == "A node's name has no end."


def test_cut_short_and_more_behind():
    reading = read(BytesView(TREE[:-8]))
    assert reading is not None
    assert reading.faults[0].code == "cut-short"
    (note,) = formats.read(BytesView(TREE + b"more")).notes
    assert (note.code, note.offset) == ("data-after-end", 110)
    assert formats.read(BytesView(TREE + bytes(20))).notes == ()


@pytest.mark.parametrize(
    ("at", "value"), [(4, 0), (8, 4), (8, 0x39), (8, 0x1000), (12, 0x1000), (20, 0), (20, 15), (20, 0x10000), (24, 18)]
)
def test_the_magic_alone_is_no_proof(at: int, value: int):
    data = TREE[:at] + struct.pack(">I", value) + TREE[at + 4 :]
    assert formats.read(BytesView(data)).kind == "opaque"


def test_bounds():
    """Hostile: nodes nested too deep; too many nodes; too many tokens."""
    names = Names()
    deep = b""
    for _ in range(limits.MAX_TREE_DEPTH + 5):
        deep = tokens(names, "n", {}, deep)
    many = tokens(names, "", {}, *(tokens(names, f"n{one}", {"a": b""}) for one in range(400)))
    nops = tokens(names, "", {}, struct.pack(">I", 4) * (limits.MAX_TREE_TOKENS + 1))
    for structure in (deep, many, nops):
        data = tree(structure, names)
        reading = read(BytesView(data))
        assert reading is not None
        battery.examine(reading, len(data))
        assert "tree-unread" in {one.code for one in reading.notes}


KEYS = st.text(st.sampled_from("abcdefgh,-#"), min_size=1, max_size=12)
NAMES = st.from_regex(r"[a-z][a-z0-9]{0,8}(@[0-9a-f]{1,4})?", fullmatch=True)


@pytest.mark.outside
@given(st.dictionaries(NAMES, st.dictionaries(KEYS, st.lists(st.integers(0, 0xFFFFFFFF), min_size=1, max_size=4))))
def test_what_fdt_writes_is_read(nodes: dict[str, dict[str, list[int]]]):
    fdt = pytest.importorskip("fdt")
    made = fdt.FDT()
    made.set_property("model", "Heron", "/")
    for name, properties in nodes.items():
        made.add_item(fdt.Node(name))
        for key, cells in properties.items():
            made.set_property(key, cells, f"/{name}")
    data = made.to_dtb(version=17)
    reading = sound(data)
    assert [part.title for part in reading.parts] == ["Node /", *(f"Node /{name}" for name in nodes)]
    for part, properties in zip(reading.parts[1:], nodes.values(), strict=True):
        have = [data[one.offset : one.offset + one.length] for one in part.fields if one.offset is not None]
        assert have == [struct.pack(f">{len(cells)}I", *cells) for cells in properties.values()]


@pytest.mark.outside
def test_fdt_reads_ours():
    fdt = pytest.importorskip("fdt")
    parsed = fdt.parse_dtb(card_tree())
    assert parsed.get_property("model", "/").value == "Corvane Heron"
    assert list(parsed.get_property("reg", "/bus/flash@0").data) == [0, 0x10000]
