"""What ELF sections say: a kernel module's own information, and whose texts count. Bytes by hand (System V gABI;
Linux kernel, MODULE_INFO); PyPI `pyelftools` is the outside reader of the section table."""

from __future__ import annotations

import io
import struct

import pytest
from elftools.elf.elffile import ELFFile

from catalogue.formats import elf
from catalogue.formats.view import BytesView

MODINFO = (
    b"version=3.10.1\0description=Heron storage driver\0license=GPL\0"
    b"vermagic=6.1.0-18 SMP mod_unload \0name=heron\0"
)


def module(sections: list[tuple[str, bytes]], *, wide: bool = True, order: str = "<") -> bytes:
    """A relocatable object with these sections and their names."""
    names = b"\0" + b"".join(name.encode() + b"\0" for name, _ in sections) + b".shstrtab\0"
    head, step, word = (64, 64, "Q") if wide else (52, 40, "I")
    bodies, rows = b"", [bytes(step)]
    for name, body in [*sections, (".shstrtab", names)]:
        at = head + len(bodies)
        numbers = (names.index(b"\0" + name.encode() + b"\0") + 1, 1, 0, 0, at, len(body), 0, 0, 1, 0)
        rows.append(struct.pack(f"{order}II{word * 4}II{word * 2}", *numbers))
        bodies += body
    ident = b"\x7fELF" + bytes((2 if wide else 1, 1 if order == "<" else 2, 1, 0)) + bytes(8)
    tail = (0, head, 0, 0, step, len(rows), len(rows) - 1)
    made = ident + struct.pack(f"{order}HHI{word * 3}IHHHHHH", 1, 62, 1, 0, 0, head + len(bodies), *tail)
    return made + bodies + b"".join(rows)


@pytest.mark.parametrize("wide", [True, False])
@pytest.mark.parametrize("order", ["<", ">"])
def test_a_kernel_module(wide: bool, order: str):
    texts = b"\0Version: 9.9\0\0built Feb 10 2026\0"
    sections = [
        (".modinfo", MODINFO),
        (".rodata.str1.1", texts),
        (".comment", b"GCC: (X 12.2.0) 12.2.0\0tool v7.7.7\0"),
        (".strtab", b"\0Version: 5.5.5\0"),
    ]
    data = module(sections, wide=wide, order=order)
    theirs = [(one.name, one.data()) for one in ELFFile(io.BytesIO(data)).iter_sections()][1:-1]
    assert theirs == sections
    reading = elf.read(BytesView(data))
    assert reading is not None
    claims = [(one.value, one.source) for one in reading.versions]
    assert claims == [("3.10.1", "kernel module information, version"), ("9.9", 'text after "Version:"')]
    for claim in reading.versions:
        assert data[claim.offset : claim.offset + len(claim.value)].decode() == claim.value
    assert [one.value for one in reading.dates] == ["2026-02-10"]
    assert reading.value("module_description") == "Heron storage driver"
    assert reading.value("module_vermagic") == "6.1.0-18 SMP mod_unload "


@pytest.mark.parametrize("cut", range(0, 400, 7))
def test_cut_short(cut: int):
    """However the file is cut, nothing is read past its end and nothing raised."""
    data = module([(".modinfo", MODINFO), (".rodata", b"\0Version: 9.9\0")])
    reading = elf.read(BytesView(data[: len(data) - cut]))
    assert reading is None or all((one.offset or 0) < len(data) - cut for one in (*reading.versions, *reading.fields))


def test_without_a_section_table_the_whole_file_counts():
    data = bytearray(module([(".x", b"\0Version: 9.9\0")]))
    data[40:48] = bytes(8)
    reading = elf.read(BytesView(bytes(data)))
    assert reading is not None
    assert [one.value for one in reading.versions] == ["9.9"]
