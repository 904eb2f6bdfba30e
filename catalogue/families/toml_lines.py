"""On which line each key and list entry of a TOML file stands; tomllib does not tell.

A path is a tuple of keys and indexes: `("route", 0, "step", 3, "type")`. The scan follows TOML 1.0 (toml.io), is
linear, and takes sound TOML for granted: at anything else it stops, and what it has by then is given. It also keeps the
bounds that tomllib does not (depth, count, length of numbers), so it runs before tomllib does.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from contextlib import suppress
from functools import lru_cache

from catalogue.families.limits import MAX_DEPTH, MAX_ITEMS, MAX_SCALAR

Path = tuple[str | int, ...]

_SPACE = re.compile(r"[ \t]*+")
_GAP = re.compile(r"(?:[ \t\n]++|#[^\n]*+)*+")
_BARE = re.compile(r"[A-Za-z0-9_-]++")
_STRINGS = (
    re.compile(r'"""(?:[^"\\]++|\\.|"(?!""))*+"""(?:"{0,2})', re.DOTALL),
    re.compile(r"'''(?:[^']++|'(?!''))*+'''(?:'{0,2})", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]++|\\[^\n])*+"'),
    re.compile(r"'[^'\n]*+'"),
)
_KEY_STRINGS = _STRINGS[2:]
_SCALAR = re.compile(r"\d{4}-\d\d-\d\d \d\d:[0-9:.+Zz-]*+|[^\s,\]}#]++")


class OverBounds(Exception):
    """The file goes over a bound; `line` says where."""

    def __init__(self, line: int, text: str) -> None:
        super().__init__(text)
        self.line = line


class _NoToml(Exception):
    """The scan met what is no TOML; tomllib will say so."""


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.breaks = [place.start() for place in re.finditer("\n", text)]
        self.lines: dict[Path, int] = {}
        self.tables: dict[Path, int] = {}
        self.items = 0

    def line(self) -> int:
        return bisect_right(self.breaks, self.at - 1) + 1

    def note(self, path: Path, line: int, firm: bool = True) -> None:
        """Record a path; one that is not firm (a table named on the way) keeps the line it has."""
        if len(path) > MAX_DEPTH:
            raise OverBounds(line, f"tables and lists lie more than {MAX_DEPTH} deep inside one another")
        self.items += 1
        if self.items > MAX_ITEMS:
            raise OverBounds(line, f"more than {MAX_ITEMS} keys and list entries")
        if firm or path not in self.lines:
            self.lines[path] = line

    def skip(self, what: re.Pattern[str]) -> None:
        found = what.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def peek(self, length: int = 1) -> str:
        return self.text[self.at : self.at + length]

    def take(self, token: str) -> None:
        if self.peek(len(token)) != token:
            raise _NoToml
        self.at += len(token)

    def key_part(self) -> str:
        bare = _BARE.match(self.text, self.at)
        if bare:
            self.at = bare.end()
            return bare.group()
        for one in _KEY_STRINGS:
            found = one.match(self.text, self.at)
            if found:
                self.at = found.end()
                return _unquoted(found.group())
        raise _NoToml

    def key(self) -> list[str]:
        parts: list[str] = []
        while True:
            self.skip(_SPACE)
            parts.append(self.key_part())
            if len(parts) > MAX_DEPTH:
                raise OverBounds(self.line(), f"a key has more than {MAX_DEPTH} parts")
            self.skip(_SPACE)
            if self.peek() != ".":
                return parts
            self.at += 1

    def header(self) -> Path:
        line = self.line()
        many = self.peek(2) == "[["
        self.take("[[" if many else "[")
        *above, last = self.key()
        self.take("]]" if many else "]")
        path: Path = ()
        for part in above:
            path = (*path, part)
            self.note(path, line, firm=False)
            path = self.newest(path, line)
        path = (*path, last)
        if not many:
            self.note(path, line)
            return path
        self.note(path, line, firm=False)
        self.tables[path] = self.tables.get(path, 0) + 1
        path = (*path, self.tables[path] - 1)
        self.note(path, line)
        return path

    def newest(self, path: Path, line: int) -> Path:
        """Where a path is an array of tables, its newest table."""
        return (*path, self.tables[path] - 1) if path in self.tables else path

    def pair(self, table: Path) -> None:
        line = self.line()
        *above, last = self.key()
        self.take("=")
        path = table
        for part in above:
            path = (*path, part)
            self.note(path, line, firm=False)
        path = (*path, last)
        self.note(path, line)
        self.skip(_SPACE)
        self.value(path)

    def value(self, path: Path) -> None:
        first = self.peek()
        if first == "[":
            self.array(path)
        elif first == "{":
            self.inline(path)
        elif first in {'"', "'"}:
            for one in _STRINGS:
                found = one.match(self.text, self.at)
                if found:
                    self.at = found.end()
                    return
            raise _NoToml
        else:
            found = _SCALAR.match(self.text, self.at)
            if not found:
                raise _NoToml
            if len(found.group()) > MAX_SCALAR:
                raise OverBounds(self.line(), f"a value without quotes is longer than {MAX_SCALAR} characters")
            self.at = found.end()

    def array(self, path: Path) -> None:
        self.at += 1
        index = 0
        while True:
            self.skip(_GAP)
            if self.peek() == "]":
                break
            self.note((*path, index), self.line())
            self.value((*path, index))
            index += 1
            self.skip(_GAP)
            if self.peek() != ",":
                break
            self.at += 1
        self.take("]")

    def inline(self, path: Path) -> None:
        self.at += 1
        while True:
            self.skip(_GAP)
            if self.peek() == "}":
                break
            self.pair(path)
            self.skip(_GAP)
            if self.peek() != ",":
                break
            self.at += 1
        self.take("}")

    def document(self) -> None:
        table: Path = ()
        while True:
            self.skip(_GAP)
            if self.at >= len(self.text):
                return
            if self.peek() == "[":
                table = self.header()
            else:
                self.pair(table)


def _unquoted(token: str) -> str:
    try:
        return str(tomllib.loads(f"k = {token}")["k"])
    except ValueError as wrong:
        raise _NoToml from wrong


def line_index(text: str) -> dict[Path, int]:
    """The line of every key, table and list entry of `text` (line ends LF), counted from 1.

    Of text that is no TOML, those up to the fault. Raises OverBounds.
    """
    scan = _Scan(text)
    with suppress(_NoToml):
        scan.document()
    return scan.lines


def dotted(path: Path) -> str:
    """A path as text: `route[0].step[3].type`; keys that are not bare stand in quotes."""
    out = ""
    for part in path:
        if isinstance(part, int):
            out += f"[{part}]"
        else:
            name = part_name(part)
            out += f".{name}" if out else name
    return out


@lru_cache(maxsize=4_096)
def part_name(key: str) -> str:
    """One key of a path as text, in quotes where it is not bare."""
    return key if _BARE.fullmatch(key) else '"' + key.replace("\\", "\\\\").replace('"', '\\"') + '"'
