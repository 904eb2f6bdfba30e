"""tar archives and compressed streams for the readers' battery; Python's own writers make them."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import tarfile

from backports import zstd

from tests.contracts.sample import Sample


def tarred(form: int, **files: bytes) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w", format=form) as archive:
        for name, data in files.items():
            one = tarfile.TarInfo(name * 30 if name == "long" else name)
            one.size = len(data)
            archive.addfile(one, io.BytesIO(data))
    return out.getvalue()[:4096]


def older() -> bytes:
    """A header of the seventh edition: no magic, a sum of the bytes alone (from memory)."""
    head = bytearray(512)
    head[:5] = b"a.bin"
    head[100:124] = b"0000644\x000000000\x000000000\0"
    head[124:148] = b"00000000003\x0000000000000\0"
    head[148:156] = b" " * 8
    head[148:156] = b"%06o\0 " % sum(head)
    return bytes(head) + b"abc".ljust(512, b"\0") + bytes(1024)


BODY = b"what lies inside " * 40
CHECKED = {zstd.CompressionParameter.checksum_flag: 1}
SAMPLES = (
    Sample("tar", "ustar", "archive/tar", tarred(tarfile.USTAR_FORMAT, a=b"one", b=b"two")),
    Sample("tar", "GNU, a long name", "archive/tar", tarred(tarfile.GNU_FORMAT, long=b"one")),
    Sample("tar", "pax, a long name", "archive/tar", tarred(tarfile.PAX_FORMAT, long=b"one")),
    Sample("tar", "of the seventh edition", "archive/tar", older()),
    Sample("gzip", "without a name", "archive/gzip", gzip.compress(BODY, mtime=0)),
    Sample("gzip", "two parts", "archive/gzip", gzip.compress(BODY, mtime=0) * 2),
    Sample("xz", "CRC-64", "archive/xz", lzma.compress(BODY)),
    Sample("xz", "cut short", "archive/xz", lzma.compress(BODY)[:-20]),
    Sample("bzip2", "one block", "archive/bzip2", bz2.compress(BODY)),
    Sample("zstd", "with a checksum", "archive/zstd", zstd.compress(BODY, options=CHECKED)),
    Sample("zstd", "a skippable frame first", "archive/zstd", b"\x50\x2a\x4d\x18\4\0\0\0skip" + zstd.compress(BODY)),
)
