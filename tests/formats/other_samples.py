"""Programs, archives, lists, texts and unknown bytes for the readers' battery."""

from __future__ import annotations

import hashlib

from tests.contracts.sample import Sample
from tests.formats.build_elf import GNU_STACK, INTERP, NOTE, elf, note
from tests.formats.build_mz import extended, mz
from tests.formats.build_pe import MadePe, certificate, pe, version_resource
from tests.formats.build_signature import Made, signed_pe, stamped
from tests.formats.build_zip import Entry, archive

STRINGS = {"CompanyName": "Saltmarsh College", "FileVersion": "12.04.0", "Odd name": "kept"}
RESOURCES = version_resource(STRINGS)
ZIPPED = archive(Entry(b"HERON.ROM", b"\x55\xaa" + bytes(30)), Entry(b"notes/READ.ME", b"hello " * 9, method=8))
BUILD_ID = note(b"GNU", 3, bytes(range(20)))
SHA256 = hashlib.sha256(b"piece").hexdigest()
MD5 = hashlib.md5(b"piece").hexdigest()

SAMPLES = (
    Sample("pe", "driver", "efi-driver", pe()),
    Sample("pe", "signed application", "efi-application", pe(MadePe(subsystem=10, certificates=certificate()))),
    Sample("pe", "signed", "efi-driver", signed_pe()),
    Sample("pe", "two signatures, one nested, a time stamp", "efi-driver", signed_pe(stamped(), Made(digest="sha512"))),
    Sample("pe", "32 bits, version", "windows-program", pe(MadePe(subsystem=3, wide=False, resources=RESOURCES))),
    Sample("pe", "overlay and symbols", "efi-driver", pe(MadePe(symbols=bytes(36), overlay=b"behind"))),
    Sample("pe", "self-extractor", "windows-program", pe(MadePe(subsystem=2, overlay=ZIPPED))),
    Sample("dos-program", "plain", "dos-program", mz()),
    Sample("dos-program", "with an overlay", "dos-program", mz(behind=b"overlay FW 1.2.3\0")),
    Sample("dos-program", "self-extractor", "dos-program", mz(behind=ZIPPED)),
    Sample("dos-program", "LE", "dos-program", extended(b"LE")),
    Sample("dos-program", "NE", "windows-program", extended(b"NE", 2)),
    Sample("dos-program", "cut before its newer header", "opaque", mz(relocation_table=0x40, pointer=0x4000)),
    Sample("elf", "program", "linux-program", elf(((INTERP, b"/lib/ld.so\0"), (NOTE, BUILD_ID), (GNU_STACK, b"")))),
    Sample("elf", "bare metal, 32 bits, big-endian", "opaque", elf(wide=False, order=">", machine=20)),
    Sample("zip", "two members", "archive/zip", ZIPPED),
    Sample("zip", "ZIP64", "archive/zip", archive(Entry(b"a", b"b"), zip64=True)),
    Sample("zip", "behind a script", "archive/zip", archive(Entry(b"a", b"b"), before=b"\x01\x02\x03run\n" * 4)),
    Sample("zip", "commented, twisted", "archive/zip", archive(Entry(b"../a"), Entry(b"../a"), comment=b"hello")),
    Sample("checksum-list", "coreutils", "checksum-list", f"{SHA256}  a.rom\n{MD5} *b.rom\n".encode()),
    Sample("checksum-list", "BSD", "checksum-list", f"SHA256 (a.rom) = {SHA256}\nMD5(b)= {MD5}\n".encode()),
    Sample("checksum-list", "UTF-16", "checksum-list", f"{SHA256}  a.rom\r\n".encode("utf-16")),
    Sample("checksum-list", "bare", "checksum-list", f"{SHA256}\n".encode()),
    Sample("text", "ASCII", "text", b"Bench notes\r\n\r\nWrite the image before any restart.\r\n"),
    Sample("text", "UTF-8", "text", "Grüße von der Werkbank\n".encode()),
    Sample("text", "UTF-16", "text", "Bench notes\n".encode("utf-16")),
    Sample("text", "code page 437", "text", "┌────┐\r\n│ Kai │\r\n└────┘\r\n".encode("cp437")),
    Sample("text", "Latin-1", "text", "Caf\xe9 and na\xefve\n".encode("latin-1")),
    Sample("text", "web page", "text", b"<!DOCTYPE html>\n<html><head><title>Gone</title></head></html>\n"),
    Sample("text", "hex text", "text", b"00000000: 55aa 40e9 0000 0000 0000 0000 0000 0000  U.@.............\n"),
    Sample("opaque", "versions", "opaque", b"\x80\x01CVFW 12.04.0\0\xfe" + "v3.10".encode("utf-16-le") + b"\0\0\x81"),
    Sample("opaque", "blank", "opaque", bytes(256)),
    Sample("opaque", "patch", "opaque", b"\xd6\xc3\xc4\0\0\x01\x02"),
)
