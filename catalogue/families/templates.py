"""Command-line templates of a route's steps: their placeholders, and how long a filled line can become."""

from __future__ import annotations

import re

from catalogue.families.limits import MAX_SLOT
from catalogue.families.model import Family, Identity, Step

SHORT_NAME = 12
"""Characters of the longest 8.3 name."""
MAX_TYPED = 32
"""Characters of the longest text identity that is typed, where no layout says how long its field is."""
SAFE_VALUE = re.compile(rf"[A-Za-z0-9][A-Za-z0-9._:-]{{0,{MAX_TYPED - 1}}}")
"""What a learned value must be before it is typed into a command line: no blank, quote, bracket, redirection, variable
or switch character of any bench's command interpreter."""
_PLACE = re.compile(r"\{([^{}]*)\}")
_ADDRESS = {"sas-address": 16, "mac": 12}
"""Hex digits of an address: 64 bits (INCITS T10, SPL), 48 bits (IEEE 802)."""


def placeholders(line: str) -> tuple[str, ...]:
    """The names in braces, in order."""
    return tuple(_PLACE.findall(line))


def stray_braces(line: str) -> bool:
    """Whether braces stand there that are no placeholder's."""
    rest = _PLACE.sub("", line)
    return "{" in rest or "}" in rest


def first_word(line: str) -> str:
    """The word that names the program."""
    return line.split(maxsplit=1)[0]


def is_safe(value: str) -> bool:
    """Whether a learned value may be typed into a command line; see SAFE_VALUE."""
    return SAFE_VALUE.fullmatch(value) is not None


def longest_value(identity: Identity, family: Family) -> int:
    """Characters that a typed identity can have: an address with its separators unless they go, a text's field."""
    digits = _ADDRESS.get(identity.kind)
    if digits:
        return digits if "no-separators" in identity.typed else digits + digits // 2 - 1
    lengths = [
        field.length
        for layout in family.layouts.values()
        for field in layout.fields
        if field.means == f"identity.{identity.name}" and field.kind == "ascii"
    ]
    return min(max(lengths, default=MAX_TYPED), MAX_TYPED)


def longest_line(family: Family, step: Step) -> tuple[int, int]:
    """Characters of a step's line at its longest, and of its tail (what stands behind the program's name).

    Every piece has an 8.3 name of full length, every optional piece is there.
    """

    def length(found: re.Match[str]) -> str:
        name = found.group(1)
        if name == "makes":
            return "x" * len(step.makes or "")
        if name == "slot":
            return "x" * MAX_SLOT
        if name in family.identities:
            return "x" * longest_value(family.identities[name], family)
        return "x" * SHORT_NAME

    line = _PLACE.sub(length, " ".join((step.type or "", *step.adds)))
    return len(line), len(line) - len(first_word(line))
