"""A variant (`extends`): its base's values with only what differs laid over them.

- `id`, `title`, `extends`, `subsystems`, `asks` and `drafted` are the variant's own and never taken over.
- Tables such as `[card]`, `[mode.NAME]`, `[role.NAME]` are laid over key by key, and so are `kind`, `has` and `with` of
  a role; every other value replaces the base's whole.
- A release or key of the same name, a route of the same id is laid over key by key; others are added behind the base's,
  as all `[[withdrawn]]` are.
- `find` puts the base's `column` out, and `column` its `find`.
"""

from __future__ import annotations

from collections.abc import Callable

from catalogue.families.limits import MAX_EXTENDS
from catalogue.families.node import Node
from catalogue.families.source import Source

OWN = ("id", "title", "extends", "subsystems", "asks", "drafted")
_NAMED = {"release": "name", "key": "name", "route": "id"}
_DEEP = ("kind", "has", "with")
_SECTIONS = ("mode", "state", "identity", "role", "layout")


class NoBase(Exception):
    """The base cannot be found or used; the text says why, for the problem at the `extends` line."""


Find = Callable[[str], Source]
"""Gives the one source of an id; raises NoBase."""


def laid_over(source: Source, own: Node, find: Find) -> tuple[Node, tuple[str, ...]]:
    """A file's values (`own`) over those of all families it stands on, and these files' SHA-256s, nearest first.

    Raises NoBase.
    """
    layers = [own]
    digests: list[str] = []
    seen = {source.id}
    while (name := _extends(layers[-1])) is not None:
        if name in seen:
            raise NoBase(f"leads back to {name}: families cannot stand on each other in a ring")
        if len(layers) > MAX_EXTENDS:
            raise NoBase(f"stands on more than {MAX_EXTENDS} families, one upon the other")
        seen.add(name)
        below = find(name)
        if below.root is None:
            raise NoBase(f"names {name}, but {below.file} cannot be read: {below.problems[0].text}")
        digests.append(below.sha256)
        layers.append(below.root)
    root = layers.pop()
    while layers:
        root = _over(root, layers.pop())
    return root, tuple(digests)


def _extends(root: Node) -> str | None:
    node = (root.table or {}).get("extends")
    return node.value if node is not None and isinstance(node.value, str) else None


def _over(base: Node, own: Node) -> Node:
    """One file's values over its base's."""
    out = {key: one for key, one in (base.table or {}).items() if key not in OWN}
    for key, one in (own.table or {}).items():
        below = out.get(key)
        if below is None:
            out[key] = one
        elif key == "card":
            out[key] = _table(below, one)
        elif key in _SECTIONS:
            out[key] = _sections(below, one)
        elif key in _NAMED:
            out[key] = _rows(below, one, _NAMED[key])
        elif key == "withdrawn" and below.list is not None and one.list is not None:
            out[key] = Node([*below.list, *one.list], one.file, one.line)
        else:
            out[key] = one
    return Node(out, own.file, own.line)


def _sections(base: Node, own: Node) -> Node:
    if base.table is None or own.table is None:
        return own
    out = dict(base.table)
    for name, one in own.table.items():
        out[name] = _table(out[name], one) if name in out else one
    return Node(out, own.file, own.line)


def _table(base: Node, own: Node) -> Node:
    """A table over a table, key by key."""
    if base.table is None or own.table is None:
        return own
    out = dict(base.table)
    for mine, theirs in (("find", "column"), ("column", "find")):
        if mine in own.table and theirs not in own.table:
            out.pop(theirs, None)
    for key, one in own.table.items():
        deep = key in _DEEP and key in out and out[key].table is not None and one.table is not None
        out[key] = Node({**(out[key].table or {}), **(one.table or {})}, one.file, one.line) if deep else one
    return Node(out, own.file, own.line)


def _rows(base: Node, own: Node, key: str) -> Node:
    """A list of tables over a list of tables, by the tables' names."""
    if base.list is None or own.list is None:
        return own
    out = list(base.list)
    places = {_name(one, key): number for number, one in enumerate(out)}
    for one in own.list:
        number = places.get(_name(one, key))
        if number is None:
            out.append(one)
        else:
            out[number] = _table(out[number], one)
    return Node(out, own.file, own.line)


def _name(node: Node, key: str) -> object:
    """A table's name; a table without one is like no other."""
    one = (node.table or {}).get(key)
    return one.value if one is not None and isinstance(one.value, str) else id(node)
