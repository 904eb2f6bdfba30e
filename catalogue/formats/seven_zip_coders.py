"""Unpack the blocks of a 7z archive: coders one behind the other, each bounded by the size that the header gives it.

Methods by their numbers in Methods.txt of the LZMA SDK (public domain). The decoders are the standard library's; the
branch filters, which liblzma only offers before LZMA2, are handed what is already unpacked as stored LZMA2 chunks.
"""

from __future__ import annotations

import bz2
import lzma
import zlib
from collections.abc import Callable, Iterator

from catalogue.formats.archive_items import CHUNK, Unreadable, stretch
from catalogue.formats.limits import MAX_DICTIONARY
from catalogue.formats.seven_zip_branches import unbranched
from catalogue.formats.seven_zip_header import AES, Coder, Folder
from catalogue.formats.view import View

_COPY, _LZMA, _LZMA2, _DELTA = b"\0", b"\x03\x01\x01", b"\x21", b"\x03"
_DEFLATE, _BZIP2, BCJ2 = b"\x04\x01\x08", b"\x04\x02\x02", b"\x03\x03\x01\x1b"
_FILTERS = {
    b"\x03\x03\x01\x03": lzma.FILTER_X86, b"\x04": lzma.FILTER_X86,
    b"\x03\x03\x02\x05": lzma.FILTER_POWERPC, b"\x05": lzma.FILTER_POWERPC,
    b"\x03\x03\x04\x01": lzma.FILTER_IA64, b"\x06": lzma.FILTER_IA64,
    b"\x03\x03\x05\x01": lzma.FILTER_ARM, b"\x07": lzma.FILTER_ARM,
    b"\x03\x03\x07\x01": lzma.FILTER_ARMTHUMB, b"\x08": lzma.FILTER_ARMTHUMB,
    b"\x03\x03\x08\x05": lzma.FILTER_SPARC, b"\x09": lzma.FILTER_SPARC,
}  # fmt: skip
_NAMES = {
    _COPY: "Copy", _LZMA: "LZMA", _LZMA2: "LZMA2", _DELTA: "Delta", _DEFLATE: "Deflate", _BZIP2: "BZip2", BCJ2: "BCJ2",
    b"\x04\x01\x09": "Deflate64", b"\x03\x04\x01": "PPMd", AES: "AES-256", b"\x0a": "ARM64", b"\x0b": "RISC-V",
    b"\x04\xf7\x11\x01": "Zstandard", b"\x04\xf7\x11\x02": "Brotli", b"\x04\xf7\x11\x04": "LZ4",
    **dict.fromkeys(_FILTERS, "branch filter"),
}  # fmt: skip
_READ = {_COPY, _LZMA, _LZMA2, _DELTA, _DEFLATE, _BZIP2, *_FILTERS}
_LZMA2_CHUNK = 1 << 16
Parts = Iterator[bytes]


def name_of(method: bytes) -> str:
    """A method's name, or its number."""
    return _NAMES.get(method, f"method {method.hex() or 'without a number'}")


def why_not(folder: Folder) -> str:
    """Why a block is not unpacked here, after "Member x"; "" where it is."""
    if folder.encrypted:
        return "is encrypted"
    for one in folder.coders:
        many = (4, 1) if one.method == BCJ2 else (1, 1)
        if one.method != BCJ2 and one.method not in _READ:
            return f"is packed by {name_of(one.method)}, which is not read"
        if (one.inputs, one.outputs) != many:
            return "is packed by a coder with the wrong number of streams"
        if window(one, folder.size) > MAX_DICTIONARY:
            return f"needs a window of more than {MAX_DICTIONARY >> 20} MiB to be unpacked"
    return ""


def window(coder: Coder, size: int) -> int:
    """Bytes that unpacking `size` bytes keeps; 0 for properties that are wrong (unpacking says so)."""
    properties = coder.properties
    if coder.method == _LZMA and len(properties) == 5:
        return min(int.from_bytes(properties[1:], "little"), size)
    if coder.method == _LZMA2 and len(properties) == 1 and properties[0] <= 40:
        stated = 0xFFFF_FFFF if properties[0] == 40 else (2 | properties[0] & 1) << (properties[0] // 2 + 11)
        return min(stated, size)
    return 0


def unpacked(view: View, folder: Folder, packed: list[tuple[int, int]]) -> Parts:
    """The bytes of a block; `packed` are all packed streams of the archive. Raises Unreadable, the view's OSError."""
    why = why_not(folder)
    if why:
        raise Unreadable(why)
    return _output(view, folder, packed, folder.main)


def _output(view: View, folder: Folder, packed: list[tuple[int, int]], out: int) -> Parts:
    """What a coder gives. No output is taken twice (`Folder.bonds`), so the way back to packed streams has an end."""
    coder = folder.coders[out]  # each has one output
    first = sum(one.inputs for one in folder.coders[:out])
    inputs = []
    for number in range(first, first + coder.inputs):
        if number in folder.bonds:
            inputs.append(_output(view, folder, packed, folder.bonds[number]))
        else:
            offset, size = packed[folder.streams + folder.packed.index(number)]
            inputs.append(stretch(view, offset, size))
    size = folder.sizes[out]
    made = unbranched(inputs, size) if coder.method == BCJ2 else _DECODERS[coder.method](inputs[0], coder, size)
    return _exactly(made, size)


def _exactly(parts: Parts, size: int) -> Parts:
    """`size` bytes of `parts`. Raises Unreadable where there are fewer, or where they do not unpack."""
    left = size
    try:
        while left:
            part = next(parts, None)
            if part is None:
                raise Unreadable("unpacks to fewer bytes than its header says")
            part = part[:left]
            left -= len(part)
            if part:
                yield part
    except (zlib.error, lzma.LZMAError, EOFError, ValueError) as error:
        raise Unreadable(f"does not unpack ({error})") from error
    except OSError as error:
        if error.errno is None and "data stream" in str(error):  # bz2 says "Invalid data stream" so
            raise Unreadable(f"does not unpack ({error})") from error
        raise


def _copy(parts: Parts, coder: Coder, size: int) -> Parts:
    return parts


def _through_lzma(parts: Parts, filters: list[dict[str, int]]) -> Parts:
    of = lzma.LZMADecompressor(lzma.FORMAT_RAW, filters=filters)
    for part in parts:
        out = of.decompress(part, CHUNK)
        while out or not (of.needs_input or of.eof):
            yield out
            if of.eof:
                return
            out = of.decompress(b"", CHUNK)
        if of.eof:
            return


def _lzma1(parts: Parts, coder: Coder, size: int) -> Parts:
    raw = coder.properties
    if len(raw) != 5 or raw[0] >= 9 * 5 * 5:
        raise Unreadable("does not unpack (wrong LZMA properties)")
    lc, lp, pb = raw[0] % 9, raw[0] // 9 % 5, raw[0] // 45
    keep = max(4096, window(coder, size))
    return _through_lzma(parts, [{"id": lzma.FILTER_LZMA1, "lc": lc, "lp": lp, "pb": pb, "dict_size": keep}])


def _lzma2(parts: Parts, coder: Coder, size: int) -> Parts:
    if len(coder.properties) != 1 or coder.properties[0] > 40:
        raise Unreadable("does not unpack (wrong LZMA2 properties)")
    return _through_lzma(parts, [{"id": lzma.FILTER_LZMA2, "dict_size": max(4096, window(coder, size))}])


def _filtered(parts: Parts, one: dict[str, int]) -> Parts:
    """Through a filter of liblzma, which takes its bytes from LZMA2: here from chunks that are merely stored."""

    def wrapped() -> Parts:
        first = b"\1"  # resets the window
        for part in parts:
            for at in range(0, len(part), _LZMA2_CHUNK):
                some = part[at : at + _LZMA2_CHUNK]
                yield first + (len(some) - 1).to_bytes(2, "big") + some
                first = b"\2"
        yield b"\0"

    return _through_lzma(wrapped(), [one, {"id": lzma.FILTER_LZMA2, "dict_size": _LZMA2_CHUNK}])


def _branches(parts: Parts, coder: Coder, size: int) -> Parts:
    offset = int.from_bytes(coder.properties[:4], "little") if len(coder.properties) == 4 else 0
    one = {"id": _FILTERS[coder.method]}
    return _filtered(parts, {**one, "start_offset": offset} if offset else one)


def _delta(parts: Parts, coder: Coder, size: int) -> Parts:
    if len(coder.properties) != 1:
        raise Unreadable("does not unpack (wrong properties of a filter)")
    return _filtered(parts, {"id": lzma.FILTER_DELTA, "dist": coder.properties[0] + 1})


def _inflate(parts: Parts, coder: Coder, size: int) -> Parts:
    of = zlib.decompressobj(-zlib.MAX_WBITS)
    for part in parts:
        out = of.decompress(part, CHUNK)
        while out:
            yield out
            out = of.decompress(of.unconsumed_tail, CHUNK)
        if of.eof:
            return


def _bunzip2(parts: Parts, coder: Coder, size: int) -> Parts:
    of = bz2.BZ2Decompressor()
    for part in parts:
        data = part
        while True:
            if of.eof:  # several streams may stand one behind the other
                data = of.unused_data + data
                if not data:
                    break
                of = bz2.BZ2Decompressor()
            out = of.decompress(data, CHUNK)
            data = b""
            if out:
                yield out
            elif not of.eof:
                break


_DECODERS: dict[bytes, Callable[[Parts, Coder, int], Parts]] = {
    _COPY: _copy,
    _LZMA: _lzma1,
    _LZMA2: _lzma2,
    _DELTA: _delta,
    _DEFLATE: _inflate,
    _BZIP2: _bunzip2,
    **dict.fromkeys(_FILTERS, _branches),
}
