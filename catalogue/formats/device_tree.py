"""Device trees in their flattened form (DTB), and the image trees that are built on it.

Devicetree Specification 0.4, chapter 5 (flattened devicetree format); numbers are big-endian.
"""

from __future__ import annotations

from itertools import chain

from catalogue.formats import inner
from catalogue.formats.device_tree_nodes import Tree, walk
from catalogue.formats.limits import MAX_STRINGS, MAX_TREE_BYTES
from catalogue.formats.overlay import is_padding
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Found, Kind, Row, number, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

SOURCE = "Devicetree Specification 0.4, 5.2"
MAGIC = b"\xd0\x0d\xfe\xed"
HEADER = 40
_ROWS = (
    Row("total_size", 4, 4, Kind.BE, SOURCE, "Bytes of the whole tree"),
    Row("structure_offset", 8, 4, Kind.BE, SOURCE, "Where the nodes stand"),
    Row("strings_offset", 12, 4, Kind.BE, SOURCE, "Where the properties' names stand"),
    Row("reservations_offset", 16, 4, Kind.BE, SOURCE, "Where the list of reserved memory stands"),
    Row("version", 20, 4, Kind.BE, SOURCE, "Version of the format"),
    Row("compatible_version", 24, 4, Kind.BE, SOURCE, "Oldest version whose readers can read it"),
    Row("boot_processor", 28, 4, Kind.BE, SOURCE, "Physical ID of the processor that boots"),
    Row("strings_size", 32, 4, Kind.BE, SOURCE, "Bytes of the names"),
    Row("structure_size", 36, 4, Kind.BE, SOURCE, "Bytes of the nodes"),
)
_VERSIONS = range(16, 0x100)
"""From 16 on the layout is the one read here (5.2); 17 is the current one."""
_COMPATIBLE = 17


def looks_like(view: View) -> Looks:
    """SURE of the magic with a header that makes sense."""
    head = view.at(0, HEADER)
    if len(head) < HEADER or head[:4] != MAGIC:
        return Looks.NO
    return Looks.SURE if _makes_sense(read_rows(_ROWS, view, 0)) else Looks.NO


def _makes_sense(found: Found) -> bool:
    total, start = number(found, "total_size"), number(found, "structure_offset")
    return (
        number(found, "version") in _VERSIONS
        and number(found, "compatible_version") <= _COMPATIBLE
        and HEADER <= start < total
        and start % 4 == 0
        and HEADER <= number(found, "strings_offset") <= total
    )


def read(view: View) -> Reading | None:
    """The tree that `view` begins with, each node a part; None where none begins there."""
    if looks_like(view) is Looks.NO:
        return None
    found = read_rows(_ROWS, view, 0)
    total = number(found, "total_size")
    faults: list[Fault] = []
    if total > view.size:
        faults.append(Fault("cut-short", f"The file ends after {view.size} of the tree's {total} bytes.", 4))
    spans = [Span("header", 0, HEADER)]
    for name, start, size in (
        ("structure", "structure_offset", "structure_size"),
        ("names", "strings_offset", "strings_size"),
    ):
        at, length = number(found, start), number(found, size)
        if at + length > total:
            faults.append(Fault("tree-damaged", f"The {name} do not lie in the tree.", 4))
        spans.append(Span(name, min(at, view.size), max(0, min(length, view.size - at))))
    with inner.reading(view):
        tree = walk(view, found, min(total, view.size, MAX_TREE_BYTES))
    faults += tree.faults
    notes = list(tree.notes)
    if total < view.size:
        padding = is_padding(view, total, view.size)
        spans.append(Span("padding" if padding else "behind the tree", total, view.size - total))
        if not padding:
            notes.append(Fault("data-after-end", "Bytes lie behind the tree.", total))
    return Reading(
        format=READER.name,
        kind="device-tree",
        title=_title(tree),
        length=view.size,
        fields=(
            *found.values(),
            Field("nodes", tree.nodes, None, 0, "Nodes in the tree", SOURCE),
            Field("properties", tree.properties, None, 0, "Properties of all nodes", SOURCE),
        ),
        parts=tuple(tree.parts),
        ids=tuple(dict.fromkeys(chain.from_iterable(part.ids for part in tree.parts))),
        versions=tuple(chain.from_iterable(part.versions for part in tree.parts))[:MAX_STRINGS],
        faults=tuple(faults),
        notes=tuple(notes),
        spans=tuple(spans),
    )


def _title(tree: Tree) -> str:
    root = tree.parts[0] if tree.parts else None
    said = [root.value(name) for name in ("model", "compatible", "description")] if root is not None else []
    first = next((one[0] if isinstance(one, tuple) else one for one in said if one), "")
    kind = "Image tree" if tree.images else "Device tree"
    return f"{kind}: {str(first)[:80]}" if first else kind


READER = Reader(
    name="device-tree",
    first=(MAGIC,),
    kinds=("device-tree",),
    looks_like=looks_like,
    read=read,
    version=1,
    source="Devicetree Specification 0.4, chapter 5",
    depth="header, every node with its properties; images that an image tree carries, each read by itself",
)
