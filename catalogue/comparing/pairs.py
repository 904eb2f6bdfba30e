"""Which part of one reading stands for which part of another, and what the way to each is called.

Parts are matched by what they are: first those that say the very same, then by the card IDs they name and what names
them, then by their words alone, then by kind; among equals in their order. What is left over is missing on the other
side. A part never stands for one of another kind.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass

from catalogue.shapes.reading import Reading

WHOLE = "piece"
"""The way to the reading of the whole piece."""
INTO = " > "
NAMING = frozenset(
    {"file_name", "image_type", "image_index", "classification", "identifier", "device_identifier", "volume_name"}
)
"""Fields that tell a part from its neighbours: a firmware file's GUID, a payload's image type."""
PLACING = frozenset({"offset", "location", "next_header"})
"""Fields that change where a part merely lies elsewhere."""
_DETAIL = re.compile(r"[:;]\s|, version ")
"""What follows in a title says more of a part than what it is."""
_MOST_LABEL = 80


@dataclass(frozen=True, slots=True)
class Pair:
    """A part of A and the one of B that stands for it; None where it is missing. `path` is the way to it."""

    path: str
    a: Reading | None
    b: Reading | None


def pairs(a: Reading, b: Reading) -> Iterator[Pair]:
    """The two readings and all their parts, outermost first, in A's order; what only B has follows. The parts of a part
    that is missing on one side are given too.
    """
    return _inside(Pair("", a, b))


def _inside(pair: Pair) -> Iterator[Pair]:
    yield pair if pair.path else Pair(WHOLE, pair.a, pair.b)
    parts_a = pair.a.parts if pair.a else ()
    parts_b = pair.b.parts if pair.b else ()
    labels: dict[str, int] = {}
    for one, other in _matched(parts_a, parts_b):
        label = _label(one or other)
        count = labels[label] = labels.get(label, 0) + 1
        name = label if count == 1 else f"{label} ({count})"
        yield from _inside(Pair(f"{pair.path}{INTO}{name}" if pair.path else name, one, other))


def _label(part: Reading | None) -> str:
    """What a part is, in the first words of its title."""
    assert part is not None
    words = " ".join(_DETAIL.split(part.title, maxsplit=1)[0].split()) or part.kind
    words = words.replace(">", "-")
    return words if len(words) <= _MOST_LABEL else words[:_MOST_LABEL] + "…"


def _matched(a: Sequence[Reading], b: Sequence[Reading]) -> list[tuple[Reading | None, Reading | None]]:
    partner: dict[int, int] = {}
    left_a, left_b = list(range(len(a))), list(range(len(b)))
    for level in _LEVELS:
        if not left_a or not left_b:
            break
        waiting: dict[Hashable, list[int]] = {}
        for at in reversed(left_b):
            key = level(b[at])
            if key is not None:
                waiting.setdefault(key, []).append(at)
        for at in left_a:
            found = waiting.get(level(a[at]))
            if found:
                partner[at] = found.pop()
        taken = set(partner.values())
        left_a = [at for at in left_a if at not in partner]
        left_b = [at for at in left_b if at not in taken]
    both: list[tuple[Reading | None, Reading | None]] = [
        (one, b[partner[at]] if at in partner else None) for at, one in enumerate(a)
    ]
    return [*both, *((None, b[at]) for at in left_b)]


def _same(part: Reading) -> Hashable:
    values = tuple((one.name, one.value) for one in part.fields if one.name not in PLACING)
    return (part.kind, part.format, part.title, part.length, values, len(part.parts))


def _cards(part: Reading) -> tuple[tuple[int, int], ...]:
    return tuple((one.vendor, one.device) for one in part.ids)


def _names(part: Reading) -> tuple[Hashable, ...]:
    return tuple((one.name, one.value) for one in part.fields if one.name in NAMING)


def _named(part: Reading) -> Hashable:
    return (part.kind, part.format, _cards(part), _names(part), _label(part))


def _named_alone(part: Reading) -> Hashable:
    """None, which matches nothing, where nothing names the part."""
    cards, names = _cards(part), _names(part)
    return (part.kind, part.format, cards, names) if cards or names else None


def _labelled(part: Reading) -> Hashable:
    return (part.kind, part.format, _label(part))


def _of_kind(part: Reading) -> Hashable:
    return (part.kind, part.format)


_LEVELS: tuple[Callable[[Reading], Hashable], ...] = (_same, _named, _named_alone, _labelled, _of_kind)
