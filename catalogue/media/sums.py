"""SHA256.SUM: the list that makes a folder a kit, in the form that `sha256sum -c` checks.

Form: GNU coreutils manual, "md5sum invocation": 64 hex digits, a blank, a blank or `*`, the name; LF. We write two
blanks and read nothing else, so that no byte of the list can change unseen; names that need an escape are refused.
"""

from __future__ import annotations

import string
from collections.abc import Iterable, Mapping

MAX_BYTES = 1 << 20
MAX_LINES = 10_000
MAX_NAME = 255
"""Bytes of one name; no file system for media holds longer ones."""


class NotSums(ValueError):
    """The bytes are no list of ours; the message names the line."""


def text(entries: Iterable[tuple[str, str]]) -> bytes:
    """The list for (name, SHA-256) pairs, in their order."""
    return b"".join(f"{sha256}  {name}\n".encode() for name, sha256 in entries)


def parse(data: bytes) -> Mapping[str, str]:
    """SHA-256 by name, in the list's order.

    Raises NotSums for anything but the form that `text` makes: another digest, a name with a path in it, a control
    character or a backslash, one name twice (also in another case: FAT knows one of them), no lines, a cut last line.
    """
    if len(data) > MAX_BYTES:
        raise NotSums(f"it is over {MAX_BYTES} bytes")
    if not data.endswith(b"\n"):
        raise NotSums("it is empty or its last line is cut")
    lines = data[:-1].split(b"\n")
    if len(lines) > MAX_LINES:
        raise NotSums(f"it has over {MAX_LINES} lines")
    found: dict[str, str] = {}
    seen: set[str] = set()
    for number, line in enumerate(lines, 1):
        name, sha256 = _line(line, number)
        if name.upper() in seen:
            raise NotSums(f"line {number}: the name {name} stands twice")
        seen.add(name.upper())
        found[name] = sha256
    return found


def _line(line: bytes, number: int) -> tuple[str, str]:
    try:
        whole = line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise NotSums(f"line {number} is no UTF-8") from error
    sha256, between, name = whole[:64], whole[64:66], whole[66:]
    if len(sha256) != 64 or not set(sha256) <= set(string.digits + "abcdef") or between != "  ":
        raise NotSums(f"line {number} is not a SHA-256 and a name")
    if not name.isprintable() or set(name) & set("/\\") or name in ("", ".", "..") or len(line) - 66 > MAX_NAME:
        raise NotSums(f"line {number}: its name is no plain file name")
    return name, sha256
