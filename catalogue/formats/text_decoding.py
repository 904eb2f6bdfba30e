"""Whether bytes are text, and in which encoding. The Unicode Standard, 23.8 (byte order mark); code page 437 and
ISO 8859-1 are told apart by which bytes are drawing signs in one and letters in the other (common practice)."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

from catalogue.formats.limits import MAX_SCAN
from catalogue.formats.view import View

MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
MARK_BYTES = tuple(mark for mark, _ in MARKS)
PLAIN_CONTROLS = b"\t\n\r\f\x1a\x1b"
"""Control bytes that texts hold: blanks, the end sign of DOS texts, and the escape of screen colours."""
_TEXT_BYTES = bytes(byte for byte in range(256) if (byte >= 0x20 and byte != 0x7F) or byte in PLAIN_CONTROLS)
_HIGH = bytes(range(0x80, 0x100))
_DRAWING = bytes(range(0xB0, 0xE0))
_RULE = re.compile(rb"([\xb0-\xdf])\1\1")
_CONTROLS = re.compile(r"[\x00-\x08\x0b\x0e-\x19\x1c-\x1f\x7f\ufffe\uffff]")
_WINDOWS_SIGNS = frozenset(b"\x80\x85\x91\x92\x93\x94\x96\x97\x99")
"""Signs that Windows texts (code page 1252) hold where ISO 8859-1 has control codes: quotes, dashes, ellipsis."""
_LEAST_CLEAR = 3
"""Of so many bytes at least two must be ASCII where the rest is in no Unicode encoding."""
HEAD = 512


@dataclass(frozen=True, slots=True)
class Text:
    """A decoded text. `mark` is the length of its byte order mark. `cut`: only its first MAX_SCAN bytes were read."""

    text: str
    encoding: str
    mark: int
    cut: bool


def may_be_text(view: View) -> bool:
    """Whether the first bytes are text in any of the encodings known here."""
    head = view.at(0, HEAD)
    return bool(head) and (head.startswith(MARK_BYTES) or is_text(head))


def is_text(head: bytes) -> bool:
    """Whether these bytes, which begin with no byte order mark, hold none that texts do not hold."""
    return not head.translate(None, _TEXT_BYTES)


def decode(view: View) -> Text | None:
    """The text that fills `view`, None where it is none. Raises nothing but the view's own OSError."""
    if not may_be_text(view):
        return None
    data = view.at(0, MAX_SCAN)
    cut = view.size > MAX_SCAN
    for mark, encoding in MARKS:
        if data.startswith(mark):
            return _unicode(data[len(mark) :], encoding, len(mark), cut)
    if data.translate(None, _TEXT_BYTES):
        return None
    if data.isascii():
        return Text(data.decode("ascii"), "ascii", 0, cut)
    return _unicode(data, "utf-8", 0, cut) or _one_byte(data, cut)


def _unicode(data: bytes, encoding: str, mark: int, cut: bool) -> Text | None:
    try:
        text = codecs.getincrementaldecoder(encoding)().decode(data, final=not cut)
    except UnicodeDecodeError:
        return None
    return None if _CONTROLS.search(text) else Text(text, encoding, mark, cut)


def _one_byte(data: bytes, cut: bool) -> Text | None:
    high = len(data) - len(data.translate(None, _HIGH))
    drawing = len(data) - len(data.translate(None, _DRAWING)) if _RULE.search(data) else 0
    if (high - drawing) * _LEAST_CLEAR > len(data) or high == len(data):
        return None
    if drawing or any(0x80 <= byte < 0xA0 and byte not in _WINDOWS_SIGNS for byte in set(data)):
        return Text(data.decode("cp437"), "cp437", 0, cut)
    return Text(data.decode("latin-1"), "latin-1", 0, cut)
