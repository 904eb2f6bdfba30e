"""A rule's manual out of its row and its function's docstring: what it catches, what it must leave alone, by what.

A docstring's first sentence says what the rule catches; paragraphs may follow. Then come its cases, each behind its
label: `Fine:`, `Refused:` (or `Refused, until …:`), `Caution:`, `Not looked at:`, and last `Looks at:`.
"""

from __future__ import annotations

import inspect
import re
from typing import TypeVar

from catalogue.kits.rule import Rule, Weight
from catalogue.shapes.manual import RuleManual

Case = TypeVar("Case")
_LABEL = re.compile(r"(?:^|(?<=\. ))(Fine|Refused[^:.;]{0,60}|Caution|Not looked at|Looks at): ", re.MULTILINE)
LEVELS = {
    Weight.STOP: "stop",
    Weight.CLEARABLE: "stop; a person's word may clear it",
    Weight.CAUTION: "caution",
    Weight.NOTE: "note",
}
_SOURCES = {
    "CP": "common practice, no published source",
    "PSP": "the program segment prefix of DOS (common practice)",
    "FAT": "Microsoft FAT32 File System Specification",
    "UEFI": "UEFI Specification",
    "UEFI ESRT": "UEFI Specification, EFI System Resource Table",
    "UEFI Shell": "UEFI Shell Specification",
    "in-toto": "in-toto Specification",
    "TUF": "The Update Framework, list of attacks",
}
_PREFIXES = (
    ("T ", "RFC 9124, THREAT."),
    ("R ", "RFC 9124, REQ."),
    ("TUF ", "The Update Framework, list of attacks: "),
)


def manual_of(rule: Rule[Case]) -> RuleManual:
    """The manual of a rule. Raises ValueError where its docstring lacks a case that is fine, or what it looks at."""
    text = inspect.cleandoc(rule.manual)
    parts = _LABEL.split(text)
    catches, _, more = parts[0].strip().partition("\n\n")
    cases = tuple(_case(*one) for one in zip(parts[1::2], parts[2::2], strict=True))
    said = dict(cases)
    if "Fine" not in said or "Looks at" not in said:
        raise ValueError(f"{rule.code}: its docstring gives no fine case, or does not say what it looks at")
    return RuleManual(
        code=rule.code,
        level=LEVELS[rule.level],
        clearable=rule.level is Weight.CLEARABLE,
        title=rule.title,
        catches=" ".join(catches.split()),
        more=" ".join(more.split()),
        fine=said["Fine"],
        cases=tuple((label, text) for label, text in cases if label not in ("Fine", "Looks at")),
        looks_at=said["Looks at"],
        remedy=rule.remedy,
        source=source_in_words(rule.source),
    )


def _case(label: str, text: str) -> tuple[str, str]:
    """A case; where none is refused, it says what the rule does instead."""
    said = " ".join(text.split())
    return (NOT_REFUSED, said.removeprefix(_NONE)) if said.startswith(_NONE) else (label, said)


_NONE = "none; "
NOT_REFUSED = "Never refused"


def source_in_words(source: str) -> str:
    """A row's short source as a person would look it up."""
    for short, long in _PREFIXES:
        if source.startswith(short):
            return long + source.removeprefix(short)
    return _SOURCES.get(source, source)
