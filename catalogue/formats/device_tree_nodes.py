"""The nodes of a flattened device tree and their properties.

Devicetree Specification 0.4, 5.4 (structure block), 5.5 (strings block), 2.2.4 (property values).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from catalogue.formats import inner
from catalogue.formats.limits import (
    MAX_DEVICES,
    MAX_FIELDS,
    MAX_PARTS,
    MAX_TEXT,
    MAX_TREE_DEPTH,
    MAX_TREE_STRINGS,
    MAX_TREE_TOKENS,
)
from catalogue.formats.rows import Found, number
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, FieldValue, Reading

SOURCE = "Devicetree Specification 0.4, 5.4"
_BEGIN, _END_NODE, _PROPERTY, _NOP, _END = 1, 2, 3, 4, 9
_MOST_NAME = 256
_NOT_IN_NAMES = re.compile(r"[^A-Za-z0-9_]+")
_STRINGS = re.compile(rb"(?:[\x20-\x7e]+\0)+")
_IMAGES = "/images/"
"""Where an image tree keeps its images (Flattened Image Tree Specification)."""


@dataclass(slots=True)
class _Node:
    """One node while it is read."""

    path: str
    start: int
    fields: list[Field] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    inside: list[Reading] = field(default_factory=list)
    place: int = 0


@dataclass(slots=True)
class Tree:
    """What was read: nodes as parts, the root first, in the order they stand. `images`: it is an image tree."""

    parts: list[Reading] = field(default_factory=list)
    nodes: int = 0
    properties: int = 0
    images: bool = False
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)


def walk(view: View, header: Found, end: int) -> Tree:
    """Every node up to the END token, within the bounds of `limits`. Raises nothing but the view's own OSError."""
    return _Walk(view, header, end).run()


class _Walk:
    """One pass over the structure block."""

    def __init__(self, view: View, header: Found, end: int) -> None:
        self.view = view
        self.start = number(header, "structure_offset")
        self.raw = view.at(self.start, end - self.start)
        names = number(header, "strings_offset")
        self.names = view.at(names, min(max(0, end - names), MAX_TREE_STRINGS))
        self.tree = Tree()
        self.open: list[_Node] = []
        self.done: list[_Node] = []
        self.at = 0

    def run(self) -> Tree:
        """Walk, then close what the tokens left open."""
        tree = self.tree
        for _ in range(MAX_TREE_TOKENS):
            kind = self._number()
            if kind is None:
                self._damaged("The tree ends without the token that ends it.")
                break
            if kind == _END:
                if self.open:
                    self._damaged("The tree ends inside a node.")
                break
            if not self._token(kind):
                break
        else:
            tree.notes.append(Fault("tree-unread", f"Only its first {MAX_TREE_TOKENS} tokens are read.", self._here()))
        while self.open:
            self._close()
        for node in self.done:
            if node.place < MAX_PARTS:
                tree.parts.append(self._part(node))
        tree.parts.sort(key=lambda part: part.offset)
        if tree.nodes > MAX_PARTS:
            tree.notes.append(Fault("tree-unread", f"Of {tree.nodes} nodes {MAX_PARTS} are shown.", self.start))
        return tree

    def _token(self, kind: int) -> bool:
        """One token; whether the walk can go on."""
        if kind == _BEGIN:
            return self._begin()
        if kind == _PROPERTY:
            return self._property()
        if kind == _END_NODE:
            if not self.open:
                self._damaged("A node ends that never began.")
                return False
            self._close()
        elif kind != _NOP:
            self._damaged(f"A token {kind:08X}h is none.")
            return False
        return True

    def _begin(self) -> bool:
        begin = self.start + self.at - 4
        stop = self.raw.find(b"\0", self.at, self.at + _MOST_NAME)
        if stop < 0:
            self._damaged("A node's name has no end.")
            return False
        name = self.raw[self.at : stop].decode("ascii", "replace")
        if len(self.open) >= MAX_TREE_DEPTH:
            self.tree.notes.append(Fault("tree-unread", f"Nodes deeper than {MAX_TREE_DEPTH} are not read.", begin))
            return False
        path = "/" if not self.open else f"{self.open[-1].path.rstrip('/')}/{name}"[:MAX_TEXT]
        self.open.append(_Node(path, begin, place=self.tree.nodes))
        self.tree.nodes += 1
        self.tree.images = self.tree.images or path == _IMAGES.rstrip("/")
        self.at = (stop + 4) // 4 * 4
        return True

    def _property(self) -> bool:
        size, offset = self._number(), self._number()
        if size is None or offset is None or self.at + size > len(self.raw):
            self._damaged("A property does not lie in the tree.")
            return False
        if not self.open:
            self._damaged("A property stands outside every node.")
            return False
        name = self._name(offset)
        node, at = self.open[-1], self.start + self.at
        self.tree.properties += 1
        if name is None:
            self._damaged("A property's name does not stand among the names.")
            return False
        if node.place < MAX_PARTS and len(node.fields) < MAX_FIELDS - 4:
            plain = unique = _NOT_IN_NAMES.sub("_", name).strip("_") or "property"
            count = 1
            while unique in node.names:
                count += 1
                unique = f"{plain}_{count}"
            node.names.add(unique)
            raw = self.raw[self.at : self.at + min(size, MAX_TEXT)]
            meaning = "" if unique == name else f"Property {name[:100]}"
            node.fields.append(Field(unique, _value(raw, size), at, size, meaning, SOURCE))
        if name == "data" and node.path.startswith(_IMAGES):
            found = inner.known_at(self.view, at, size)
            node.inside += (found,) if found is not None else ()
        self.at = (self.at + size + 3) // 4 * 4
        return True

    def _name(self, offset: int) -> str | None:
        stop = self.names.find(b"\0", offset, offset + _MOST_NAME)
        return self.names[offset:stop].decode("ascii", "replace") if 0 <= offset < stop else None

    def _close(self) -> None:
        self.done.append(self.open.pop())

    def _part(self, node: _Node) -> Reading:
        inside = tuple(node.inside[:MAX_PARTS])
        return Reading(
            format="device-tree-node",
            kind="device-tree-node",
            title=f"Node {node.path}" + (f": {inside[0].title}" if inside else ""),
            offset=node.start,
            length=0,
            fields=tuple(node.fields),
            parts=inside,
            ids=tuple(card for one in inside for card in one.ids),
            versions=tuple(claim for one in inside for claim in one.versions),
        )

    def _number(self) -> int | None:
        raw = self.raw[self.at : self.at + 4]
        self.at += 4
        return int.from_bytes(raw, "big") if len(raw) == 4 else None

    def _here(self) -> int:
        return min(self.start + self.at, self.view.size)

    def _damaged(self, text: str) -> None:
        self.tree.faults.append(Fault("tree-damaged", text, self._here()))


def _value(raw: bytes, size: int) -> FieldValue:
    """A property's value: nothing, strings, 32-bit cells, else hex. What it means is the binding's affair (2.2.4)."""
    if not size:
        return True
    if size <= len(raw) and _STRINGS.fullmatch(raw):
        strings = tuple(one.decode("ascii") for one in raw[:-1].split(b"\0"))
        return strings[0] if len(strings) == 1 else strings[:MAX_DEVICES]
    if size % 4 == 0 and size <= len(raw):
        cells = tuple(int.from_bytes(raw[at : at + 4], "big") for at in range(0, min(size, 4 * MAX_DEVICES), 4))
        return cells[0] if len(cells) == 1 else cells
    return raw[: MAX_TEXT // 2].hex()
