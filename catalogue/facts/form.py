"""The form of a facts file, version 1: bounds, the names of its lines, and how a value is spelt on a line.

    Kitproof facts 1
    bench: Saltmarsh reuse bench
    sent by: Ann

    list
      id: 4f0c...
      ...
      line: 1 sha256 9a3b... fw.bin

    end: 1

UTF-8, LF, one value a line. A value is as it is but for the backslash, which is doubled, and for all that does not
print, which stands as `\\u{HEX}`. Texts of several lines stand on several lines of one name. There is one way only to
write given facts, and a file that is written another way is refused: so no byte of it goes unread.
"""

from __future__ import annotations

import re
from unicodedata import ucd_3_2_0

FIRST = "Kitproof facts 1"
MAX_FILE_BYTES = 8 << 20
MAX_FACTS = 20_000
MAX_LINE = 8_000
"""Characters of a line; a longer value is no name or reason."""
MAX_ENTRIES = 100_000
"""Lines of all checksum lists of one file."""
MAX_TEXT = 256 << 10
"""Characters of one saved listing."""
MAX_FAMILY = 1 << 20
"""Characters of one family file."""
MAX_FAMILIES = 64
MAX_KEY = 1 << 20
"""Bytes of one public key."""
_ESCAPE = re.compile(r"\\(?:\\|u\{([0-9A-F]{1,6})\})|\\")


class NotFacts(ValueError):
    """The bytes are no facts file that is read here; `line` (from 1) says where."""

    def __init__(self, line: int, why: str) -> None:
        super().__init__(f"line {line}: {why}")
        self.line = line


def spelt(value: str) -> str:
    """A value as it stands on a line. Blanks at its ends are escaped too, for nobody sees them."""
    if value.isascii() and value.isprintable() and "\\" not in value and value == value.strip():
        return value
    core = value.strip(" ")
    if not core:
        return _escaped(" ") * len(value)
    lead, tail = len(value) - len(value.lstrip(" ")), len(value) - len(value.rstrip(" "))
    return _escaped(" ") * lead + "".join(one if _prints(one) else _escaped(one) for one in core) + _escaped(" ") * tail


def _prints(one: str) -> bool:
    """Whether a character stands as it is: by Unicode 3.2, which every Python knows alike, so the form never moves.

    (What does not print by a later Unicode any more, such as the soft hyphen, does not stand either.)
    """
    return one == " " or (one != "\\" and one.isprintable() and ucd_3_2_0.category(one)[0] not in "CZ")


def _escaped(one: str) -> str:
    return "\\\\" if one == "\\" else f"\\u{{{ord(one):X}}}"


def spoken(spelling: str) -> str:
    """The value of a spelling. Raises ValueError for a backslash that begins no escape."""
    if "\\" not in spelling:
        return spelling

    def one(match: re.Match[str]) -> str:
        if match[0] == "\\\\":
            return "\\"
        if match[1] is None or int(match[1], 16) > 0x10FFFF:
            raise ValueError("holds a backslash that begins no escape")
        return chr(int(match[1], 16))

    return _ESCAPE.sub(one, spelling)


HEX64 = re.compile(r"[0-9a-f]{64}")
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00")
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,127}")
ENTRY = re.compile(r"([1-9][0-9]{0,8}) (md5|sha1|sha224|sha256|sha384|sha512) ([0-9a-f]{32,128})(?: (.+))?")
DIGITS = {"md5": 32, "sha1": 40, "sha224": 56, "sha256": 64, "sha384": 96, "sha512": 128}
"""Hex digits of each digest (RFC 1321, FIPS 180-4)."""
