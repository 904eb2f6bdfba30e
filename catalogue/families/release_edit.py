"""A release put into a family file's text by whole lines: every line that was there stays as it is.

The new release comes before the others, newest first, behind the comment that stands over them; where there is none
yet, at the end of the file. The file's own line ends are kept.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

from catalogue.families.drafting.page import quote
from catalogue.shapes.releases import NewRelease
from catalogue.shapes.visible import visible

_ROW = re.compile(r"[^\n]*\n|[^\n]+")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_MOST_COMMENT = 300


def with_release(text: str, lines: Mapping[str, int], new: NewRelease, today: date) -> tuple[str, int]:
    """The file's text with the release, and the line (from 1) at which it begins.

    `lines` says where each value of the file stands. Raises ValueError where the file's releases are one value, or its
    `as_of` stands on a line that cannot be told.
    """
    rows = _ROW.findall(text)
    end = "\r\n" if rows and rows[0].endswith("\r\n") else "\n"
    if rows and not rows[-1].endswith("\n"):
        rows[-1] += end
    block = [f"{one}{end}" for one in _block(new, today)]
    at = len(rows)
    first = lines.get("release[0]")
    if first is not None:
        at = first - 1
        if not rows[at].lstrip().startswith("[[release]]"):
            raise ValueError("its releases do not stand under [[release]] headers; add this one by hand")
    elif rows and rows[-1].strip():
        block.insert(0, end)
    if new.as_of is not None:
        _set_as_of(rows, lines.get("as_of"), new.as_of)
    begins = at + 1 + (1 if not block[0].strip() else 0)
    return "".join([*rows[:at], *block, *rows[at:]]), begins


def _block(new: NewRelease, today: date) -> list[str]:
    who = f", said by {new.by}" if new.by else ""
    source = f"from {new.source}" if new.source else "typed in"
    comment = visible(f"{source}{who}, {today.isoformat()}", _MOST_COMMENT)
    made = [
        f"[[release]]  # {comment}",
        f"name = {quote(new.name)}",
        f"date = {new.day.isoformat()}",
        f"mix = {quote(new.mix)}",
    ]
    made += [f"{role} = {{ version = {quote(version)} }}" for role, version in new.versions.items()]
    return made


def _set_as_of(rows: list[str], line: int | None, day: date) -> None:
    if line is None or not _DAY.search(rows[line - 1]):
        raise ValueError("the line of its as_of cannot be told; set it by hand")
    rows[line - 1] = _DAY.sub(day.isoformat(), rows[line - 1], count=1)
