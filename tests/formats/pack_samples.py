"""7z archives, cabinets, installers, Debian and RPM packages, cpio and ar archives for the readers' battery."""

from __future__ import annotations

from tests.contracts.sample import Sample
from tests.formats import build_7z, build_cab
from tests.formats.build_compound import compound, installer
from tests.formats.build_mz import mz
from tests.formats.build_packs import DEVICE, FOLDER, LINK, Entry, ar, cpio, deb, rpm
from tests.formats.build_pe import MadePe, pe

ROM = b"\x55\xaa" + bytes(30)
FILES = (build_7z.File("HERON.ROM", ROM), build_7z.File("notes/READ.ME", b"hello " * 9), build_7z.File("empty", b""))
SEVEN = build_7z.archive(*FILES)
CAB = build_cab.cabinet(build_cab.File(b"HERON.ROM", ROM), build_cab.File(b"notes\\READ.ME", b"hello " * 9))
TREE = (
    Entry(b"lib", b"", FOLDER, 2),
    Entry(b"lib/a.rom", ROM),
    Entry(b"lib/b", b"a.rom", LINK),
    Entry(b"null", b"", DEVICE),
)

SAMPLES = (
    Sample("7z", "three files", "archive/7z", SEVEN),
    Sample("7z", "packed header", "archive/7z", build_7z.archive(*FILES, pack_header=True)),
    Sample("7z", "encrypted", "archive/7z", build_7z.archive(*FILES, coder=build_7z.AES)),
    Sample("7z", "first volume", "archive/7z", SEVEN[:60]),
    Sample("cab", "two files", "archive/cab", CAB),
    Sample("cab", "reserved areas, a set", "archive/cab", build_cab.cabinet(
        build_cab.File(b"a"), build_cab.File(b"b", folder=0xFFFE), flags=2, names=(b"two.cab", b"disk 2"),
        reserves=(bytes(20), b"ff", b"b"), method=0)),
    Sample("msi", "installer", "archive/msi", installer({"product.cab": CAB, "Binary.rom": ROM * 130})),
    Sample("msi", "no installer", "archive/compound-file", compound({"Document": b"text" * 99}, clsid="0" * 32)),
    Sample("ar", "Debian package", "archive/deb", deb()),
    Sample("ar", "library", "archive/ar", ar(
        (b"/", bytes(8)), (b"//", b"a/long/name.o/\n"), (b"/0", b"x"), (b"#1/4", b"b.o\0yy"))),
    Sample("rpm", "package", "archive/rpm", rpm(signed=True)),
    Sample("cpio", "new form", "archive/cpio", cpio(*TREE)),
    Sample("cpio", "with sums", "archive/cpio", cpio(*TREE, form=b"070702")),
    Sample("cpio", "octal", "archive/cpio", cpio(*TREE, form=b"070707")),
    Sample("rar", "older form", "archive/rar", b"Rar!\x1a\x07\0" + bytes(range(60))),
    Sample("rar", "newer form", "archive/rar", b"Rar!\x1a\x07\1\0" + bytes(range(60))),
    Sample("pe", "7z behind it", "windows-program", pe(MadePe(subsystem=2, overlay=b";settings\r\n" + SEVEN))),
    Sample("pe", "cabinet behind it", "windows-program", pe(MadePe(subsystem=2, overlay=CAB))),
    Sample("dos-program", "7z behind it", "dos-program", mz(behind=SEVEN)),
)  # fmt: skip
