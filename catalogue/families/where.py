"""Which file and line of a family file says a thing."""

from __future__ import annotations

import re

from catalogue.families.model import Family

_LAST = re.compile(r"(?:\[\d+\]|\.?(?:[A-Za-z0-9_-]+|\"(?:[^\"\\]|\\.)*\"))$")


def place(family: Family, path: str) -> tuple[str, int]:
    """File and line of a dotted path such as "route[0].step[2].type"; where it is not there, of the nearest above."""
    while path:
        if path in family.lines:
            return family.file, family.lines[path]
        if path in family.inherited:
            return family.inherited[path]
        shorter = _LAST.sub("", path)
        path = shorter if shorter != path else ""
    return family.file, 1
