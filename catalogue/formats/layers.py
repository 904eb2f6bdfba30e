"""The bytes that a part's offsets count in: the piece's own, or what was unpacked on the way to the part.

A part lies a layer deeper than its parent where it was unpacked from it (`Reading.layer`). What the reader did is done
again here, once a layer, within the reader's own bounds; nothing unpacked is kept with a reading.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from catalogue.formats import efi_image, firmware_volume, hex_memory
from catalogue.formats.view import BytesView, PartView, View
from catalogue.shapes.reading import Reading

Unpacker = Callable[[View, Reading, int], bytes | None]
"""From the bytes a reading's offsets count in, the reading, and the position of one of its parts, that part's bytes."""


def _driver(view: View, image: Reading, part: int) -> bytes | None:
    return efi_image.unpacked(view, image)


def _memory(view: View, text: Reading, part: int) -> bytes | None:
    return hex_memory.decoded(PartView(view, text.offset, text.length), text, part)


UNPACKERS: dict[str, Unpacker] = {
    "option-rom-image": _driver,
    "ffs-file": firmware_volume.unpacked,
    "intel-hex": _memory,
    "s-record": _memory,
    "uf2": _memory,
}
"""By the format of the reading whose part lies a layer deeper; a test demands a row for every sample that has one."""


def layer_of(view: View, whole: Reading, path: Sequence[int]) -> View | None:
    """The bytes that offsets in one part of `whole`, the reading of `view`, count in.

    `path` is the way to the part: positions among `parts`, from the outside in; none for `whole` itself. None where
    there is no such part, or its bytes do not unpack as they did (the piece has changed since). Raises nothing but the
    view's own OSError.
    """
    parent = whole
    for position in path:
        if not 0 <= position < len(parent.parts):
            return None
        part = parent.parts[position]
        if part.layer > parent.layer:
            unpack = UNPACKERS.get(parent.format)
            data = unpack(view, parent, position) if unpack is not None else None
            if data is None or part.offset + part.length > len(data):
                return None
            view = BytesView(data)
        parent = part
    return view
