"""The demo's programs, as pefile, lief, pyelftools, `file`, Linux and a DOS take them."""

from __future__ import annotations

import io
import os
import platform
import shutil
import struct
import subprocess

import lief
import pefile
import pytest
from elftools.elf.elffile import ELFFile

from sample_bundles import bittern, dos, heron, pe, plover


def driver_of(image: bytes) -> bytes:
    return image[struct.unpack_from("<H", image, 0x16)[0] :]


EFI = [
    (bittern.UEFI_WRITER.data, 10), (heron.UEFI_WRITER.data, 10), (plover.UEFI_WRITER.data, 10),
    (driver_of(bittern.UEFI.data), 11), (driver_of(heron.UEFI.data), 11), (bittern.windows_writer("3.15"), 3),
]


@pytest.mark.outside
@pytest.mark.parametrize(("data", "subsystem"), EFI)
def test_pefile_and_lief_read_the_same(data, subsystem):
    """Microsoft PE/COFF specification, by two readers that are not ours."""
    one = pefile.PE(data=data)
    assert (one.FILE_HEADER.Machine, one.OPTIONAL_HEADER.Magic) == (0x8664, 0x20B)
    assert one.OPTIONAL_HEADER.Subsystem == subsystem
    assert [section.Name.rstrip(b"\0") for section in one.sections] == [b".text", b".data", b".reloc"]
    assert one.get_warnings() == []
    other = lief.PE.parse(list(data))
    assert other is not None
    assert int(other.optional_header.subsystem) == subsystem
    assert int(other.header.machine) == 0x8664
    assert other.optional_header.sizeof_image == max(
        section.VirtualAddress + 0x1000 for section in one.sections[-1:]
    )
    assert [len(block.entries) for block in other.relocations] == [2]


@pytest.mark.outside
@pytest.mark.parametrize("make", [pe.EFI_APPLICATION, pe.EFI_DRIVER, pe.WINDOWS_CONSOLE])
def test_pefile_agrees_with_the_checksum(make):
    assert pefile.PE(data=pe.program(make, "text", b"odd")).verify_checksum()


@pytest.mark.outside
def test_pyelftools_reads_the_linux_program():
    """System V gABI, by a reader that is not ours."""
    one = ELFFile(io.BytesIO(plover.LINUX_WRITER.data))
    assert (one.elfclass, one.little_endian, one["e_machine"], one["e_type"]) == (64, True, "EM_X86_64", "ET_EXEC")
    assert [section.name for section in one.iter_sections()] == ["", ".text", ".rodata", ".note.ABI-tag", ".shstrtab"]
    assert one.get_section_by_name(".rodata").data().startswith(b"SHINGLE 1.12.0")
    assert [segment["p_type"] for segment in one.iter_segments()] == ["PT_LOAD", "PT_NOTE", "PT_GNU_STACK"]
    (note,) = one.get_section_by_name(".note.ABI-tag").iter_notes()
    assert (note["n_name"], note["n_desc"]["abi_os"]) == ("GNU", "ELF_NOTE_OS_LINUX")


@pytest.mark.outside
@pytest.mark.skipif((platform.system(), platform.machine()) != ("Linux", "x86_64"), reason="needs Linux on x86-64")
def test_the_linux_program_runs(tmp_path):
    """It is our own, made here from source: it prints a line and ends."""
    path = tmp_path / "shingle"
    path.write_bytes(plover.LINUX_WRITER.data)
    path.chmod(0o755)
    done = subprocess.run([str(path)], capture_output=True, check=True)
    assert done.stdout == b"SHINGLE 1.12.0 (demo: writes nothing)\n"


@pytest.mark.outside
@pytest.mark.skipif(not shutil.which("file"), reason="needs `file`")
@pytest.mark.parametrize(("data", "name", "want"), [
    (bittern.DOS_WRITER.data, "x.exe", "LE executable"),
    (heron.DOS_WRITER.data, "x.exe", "MS-DOS executable"),
    (bittern.UEFI_WRITER.data, "x.efi", "PE32+ executable (EFI application)"),
    (bittern.FIRMWARE.data, "x.fw", "data"),
])
def test_file_names_them(tmp_path, data, name, want):
    path = tmp_path / name
    path.write_bytes(data)
    told = subprocess.run(["file", "-b", str(path)], capture_output=True, text=True, check=True).stdout
    assert want in told


def test_the_dos_header_covers_the_whole_program():
    """MZ: (pages - 1) * 512 + bytes on the last page is the load module (from memory; 0 means a full page)."""
    for length in (0, 1, 400, 449, 450, 451, 30_000):
        data = dos.mz("x", bytes(length))
        last, pages = struct.unpack_from("<HH", data, 2)
        assert (pages - 1) * 512 + (last or 512) == len(data)


@pytest.mark.outside
@pytest.mark.skipif(not shutil.which("dosbox"), reason="needs dosbox")
def test_a_dos_runs_them(tmp_path):
    """DOSBox starts the MZ, the MZ+LE and the COM program; each prints its line."""
    for name, item in (("A.EXE", heron.DOS_WRITER), ("B.EXE", bittern.DOS_WRITER), ("C.COM", heron.KEYS)):
        (tmp_path / name).write_bytes(item.data)
    lines = [f"MOUNT C {tmp_path}", "C:", "A > A.TXT", "B > B.TXT", "C > C.TXT", "EXIT"]
    settings = tmp_path / "dosbox.conf"
    settings.write_text("[mixer]\nnosound=true\n[cpu]\ncycles=max\n[autoexec]\n" + "\n".join(lines) + "\n")
    environment = {**os.environ, "SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy", "HOME": str(tmp_path)}
    subprocess.run(["dosbox", "-conf", str(settings)], env=environment, check=True, timeout=60, capture_output=True)
    assert (tmp_path / "A.TXT").read_bytes().startswith(b"WEIRHAND 2.40")
    assert (tmp_path / "B.TXT").read_bytes().startswith(b"QUAYHAND 3.22")
    assert (tmp_path / "C.TXT").read_bytes() == b"Key table loaded.\r\n"
