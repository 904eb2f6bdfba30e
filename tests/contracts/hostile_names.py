"""Names that an archive may give its members, none of which is a path, a command or a mark to obey."""

from __future__ import annotations

import io
import tarfile

from tests.formats import build_7z
from tests.formats.build_packs import Entry, cpio
from tests.formats.build_zip import Entry as ZipEntry
from tests.formats.build_zip import archive

LONG = "l" * 65_000
"""Near the most that a name's length field of 16 bits can say (APPNOTE.TXT 4.4.10)."""
NAMES = (
    "../../up.bin",
    "..\\..\\up.bin",
    "/abs.bin",
    "C:\\drive.bin",
    "C:relative.bin",
    "\\\\host\\share\\x.bin",
    "nul\0cut.bin",
    "line\nend.bin",
    "back\rover.bin",
    "tty\x1b[2J\x1b]0;title\x07.bin",
    "csi\x9b31m.bin",
    "pay\u202egnp.bin",
    "iso\u2066late\u2069.bin",
    "wide\u2028line.bin",
    "<b>bold</b><img src=x>.bin",
    "%s%n{0}$(id)`id`.bin",
    "CON.bin",
    LONG,
)
MARKS = "\0\n\r\x1b\x07\x9b\u202e\u2066\u2069\u2028"
"""What must reach no screen as it is."""


def body(number: int) -> bytes:
    """The bytes of the member with that number; each is a piece of its own."""
    return b"hostile %d \0\1\2" % number


def _zip() -> bytes:
    utf8 = 1 << 11
    return archive(*(ZipEntry(name.encode(), body(at), flags=utf8) for at, name in enumerate(NAMES)))


def _tar() -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w", format=tarfile.PAX_FORMAT) as made:
        for at, name in enumerate(NAMES):
            one = tarfile.TarInfo(name.replace("\0", ""))  # a pax record keeps none
            one.size = len(body(at))
            made.addfile(one, io.BytesIO(body(at)))
    return out.getvalue()


def _seven_zip() -> bytes:
    # Its names are UTF-16 and end with a zero.
    return build_7z.archive(*(build_7z.File(name.replace("\0", ""), body(at)) for at, name in enumerate(NAMES)))


def _cpio() -> bytes:
    return cpio(*(Entry(name.replace("\0", "").encode(), body(at)) for at, name in enumerate(NAMES)), form=b"070701")


ARCHIVES = {"zip": _zip, "tar": _tar, "7z": _seven_zip, "cpio": _cpio}
