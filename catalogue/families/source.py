"""A family file's bytes as located values: size, encoding and TOML syntax are judged here, the schema is not."""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from catalogue.families.limits import MAX_FILE_BYTES
from catalogue.families.node import Node, located
from catalogue.families.toml_lines import OverBounds, line_index
from catalogue.shapes.results import FileProblem

_AT_LINE = re.compile(r"\s*\(at line (\d+), column (\d+)\)$")
_AT_END = re.compile(r"\s*\(at end of document\)$")
_FIRST_HEADER = re.compile(r"^[ \t]*\[", re.MULTILINE)
_OFTEN = 64 << 10
"""Bytes of a file whose values are kept, so that asking again costs reading and comparing only."""
_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Source:
    """One file as read. `root` is None where it could not be read as TOML; `id` is then still given if it shows."""

    file: str
    sha256: str
    root: Node | None
    id: str | None
    problems: tuple[FileProblem, ...] = ()


def read_source(path: Path) -> Source:
    """Read one family file; never raises for what is in it, nor for a file that cannot be opened (a problem then)."""
    file = str(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(MAX_FILE_BYTES + 1)
    except OSError as wrong:
        return Source(file, "", None, None, (FileProblem(file, 1, f"cannot be read: {wrong.strerror or wrong}"),))
    return _source_again(file, data) if len(data) <= _OFTEN else source_of(file, data)


def source_of(file: str, data: bytes) -> Source:
    """A family file's bytes as a source; `sha256` is of these bytes."""
    sha256 = hashlib.sha256(data).hexdigest()
    if len(data) > MAX_FILE_BYTES:
        return _broken(file, sha256, 1, f"is larger than {MAX_FILE_BYTES} bytes; a family file is a few kilobytes")
    try:
        text = data.removeprefix(_BOM).decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as wrong:
        line = data.removeprefix(_BOM).count(b"\n", 0, wrong.start) + 1
        return _broken(file, sha256, line, "is not UTF-8 text from here on; save the file as UTF-8")
    try:
        lines = line_index(text)
        document = tomllib.loads(text)
    except OverBounds as wrong:
        return _broken(file, sha256, wrong.line, f"goes over a bound: {wrong}", text)
    except (ValueError, RecursionError) as wrong:
        line, why = _where(str(wrong), text)
        return _broken(file, sha256, line, f"is not TOML: {why}", text)
    return Source(file, sha256, located(document, lines, file), _id_of(document))


_source_again = lru_cache(maxsize=1_000)(source_of)


def _where(message: str, text: str) -> tuple[int, str]:
    """The line that tomllib's message names, and the message without it."""
    found = _AT_LINE.search(message)
    if found:
        return int(found.group(1)), f"{message[: found.start()]} (column {found.group(2)})"
    return text.rstrip("\n").count("\n") + 1, _AT_END.sub(" (the file ends too early)", message)


def _broken(file: str, sha256: str, line: int, why: str, text: str = "") -> Source:
    """A file that is no TOML. Its id is taken from the lines before the first table, where those alone are TOML."""
    header = _FIRST_HEADER.search(text)
    found = None
    if header:
        try:
            line_index(text[: header.start()])
            found = _id_of(tomllib.loads(text[: header.start()]))
        except (OverBounds, ValueError):
            found = None
    return Source(file, sha256, None, found, (FileProblem(file, line, why),))


def _id_of(document: dict[str, object]) -> str | None:
    one = document.get("id")
    return one if isinstance(one, str) else None
