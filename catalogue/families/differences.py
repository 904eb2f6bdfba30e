"""What one family file says otherwise than another: a variant than its base, a new text than the one before it.

Tables of a list are told apart by their names (`release`, `route`, `key`, `step`), fields of a layout by their meaning,
so that one put in between does not make all below it look changed. A list of plain values is one value.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from catalogue.families.extends import OWN
from catalogue.families.node import Node
from catalogue.shapes.results import FamilyChange
from catalogue.shapes.visible import visible

MOST_CHANGES = 1_000
MOST_SHOWN = 200
"""Characters of one value that are shown."""
_NAMES = ("name", "id", "is")


def between(old: Node, new: Node, leave: tuple[str, ...] = ()) -> tuple[FamilyChange, ...]:
    """Every value that differs, in the order of the new file, what is gone last; keys of `leave` at the top left out.

    MOST_CHANGES at most.
    """
    before, after = dict(_leaves(old)), dict(_leaves(new))
    out = []
    for path, node in after.items():
        was = before.get(path)
        if was is None or not _same(was.value, node.value):
            out.append(FamilyChange(path, _shown(was), _shown(node), node.file, node.line))
    out += [FamilyChange(path, _shown(node), "", node.file, node.line) for path, node in before.items()
            if path not in after]  # fmt: skip
    kept = [one for one in out if one.path.partition(".")[0] not in leave]
    return tuple(kept[:MOST_CHANGES])


def of_variant(base: Node, whole: Node) -> tuple[FamilyChange, ...]:
    """What a variant (`whole`, its values laid over its base's) says otherwise than its base."""
    return between(base, whole, OWN)


def _leaves(node: Node, path: str = "") -> Iterator[tuple[str, Node]]:
    """Every value with its path; of two alike the last counts, as nobody reads them apart."""
    if node.table is not None:
        for key, one in node.table.items():
            yield from _leaves(one, f"{path}.{key}" if path else key)
    elif node.list is not None and any(one.table is not None for one in node.list):
        for number, one in enumerate(node.list):
            yield from _leaves(one, f"{path}[{_name(one, number)}]")
    else:
        yield path, node


def _name(node: Node, number: int) -> str:
    for key in _NAMES:
        one = (node.table or {}).get(key)
        if one is not None and isinstance(one.value, str):
            return visible(one.value, 80)
    return str(number)


def _plain(value: object) -> object:
    return [_plain(one.value if isinstance(one, Node) else one) for one in value] if isinstance(value, list) else value


def _same(one: object, other: object) -> bool:
    return type(one) is type(other) and _plain(one) == _plain(other)


def _shown(node: Node | None) -> str:
    """A value as a person reads it; "" for none."""
    if node is None:
        return ""
    value = _plain(node.value)
    text = (", ".join(map(_one, value)) or "nothing") if isinstance(value, list) else _one(value)
    return visible(text, MOST_SHOWN)


def _one(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return value.isoformat() if isinstance(value, date) else str(value)
