"""Configuration EEPROM images, by a layout that a family file declares.

There is no published format, so this file is no row of the table: bytes alone never say that they are such an image. A
caller that holds a layout asks (family-file contract: `layout`).
"""

from __future__ import annotations

from collections.abc import Iterable

from catalogue.formats.eeprom_sums import SUMS
from catalogue.shapes.layout import Layout, LayoutField, LayoutSum
from catalogue.shapes.reading import Fault, Field, FieldValue, LayoutAnswer, Reading, Span

KIND = "eeprom-image"
_FILL = b"\0\xff"
_NUMBERS = {"u8": (1, "little")} | {
    f"u{bits}{order[0]}e": (bits // 8, order) for bits in (16, 32, 64) for order in ("little", "big")
}
_MOST_COPIES_BYTES = 64 << 20
_TITLES = {
    "fits": "Configuration EEPROM image",
    "size": "Configuration EEPROM image of another size",
    "swapped": "Configuration EEPROM image with its bytes swapped in pairs",
    "repeated": "Configuration EEPROM image, repeated",
    "blank": "Blank configuration EEPROM image",
}
_FAULTS = {
    "size": ("wrong-size", "The magic is right, the size is not: the layout has {size} bytes, the file {have}."),
    "swapped": ("bytes-swapped", "The magic shows only after the bytes of each 16-bit word are swapped."),
    "repeated": ("bytes-swapped", "The file is the image of {size} bytes, repeated to {have}."),
    "blank": ("blank", "Nothing but 00h and FFh, whole or in every field of the layout."),
}


def answer(data: bytes, layout: Layout) -> LayoutAnswer:
    """How `data` stands to `layout`; see LayoutAnswer for the states. Never raises, whatever the bytes.

    Fields are read where the state is fits, size, repeated (from the first copy) or blank; the sum only where it fits:
    of an image of another size or order it would say nothing more.
    """
    state = _state(data, layout)
    if state in ("other", "swapped"):
        return LayoutAnswer(state)
    fields: list[Field] = []
    values: dict[str, FieldValue] = {}
    empty: set[str] = set()
    for one in layout.fields:
        raw = data[one.at : one.at + _width(one)]
        if len(raw) < _width(one):
            continue
        values[one.means] = _value(one, raw)
        fields.append(Field(one.means, values[one.means], one.at, len(raw), f"{one.kind}, layout {layout.name}"))
        if _is_empty(one, raw):
            empty.add(one.means)
    sum_ok = _sum_ok(data, layout.sum) if state == "fits" and layout.sum is not None else None
    return LayoutAnswer(state, tuple(fields), values, frozenset(empty), sum_ok)


def reading(data: bytes, layout: Layout) -> Reading | None:
    """`data` as a configuration EEPROM image of `layout`, None where it is none (the state is "other")."""
    found = answer(data, layout)
    if found.state == "other":
        return None
    magic = Field("magic", layout.magic.hex(), layout.magic_at, len(layout.magic), f"magic of layout {layout.name}")
    fields = [] if found.state in ("swapped", "blank") else [magic]
    faults: list[Fault] = []
    if found.state in _FAULTS:
        code, text = _FAULTS[found.state]
        faults.append(Fault(code, text.format(size=layout.size, have=len(data)), 0))
    if layout.sum is not None and found.sum_ok is not None:
        where = (layout.sum.start, layout.sum.end - layout.sum.start)
        fields.append(Field("sum_ok", found.sum_ok, *where, f"{layout.sum.kind} of layout {layout.name}"))
        if not found.sum_ok:
            faults.append(Fault("eeprom-sum", f"The declared {layout.sum.kind} does not hold.", layout.sum.start))
    return Reading(
        format=KIND,
        kind=KIND,
        title=f"{_TITLES[found.state]} (layout {layout.name})",
        length=len(data),
        fields=(*fields, *found.fields),
        faults=tuple(faults),
        spans=tuple(Span(one.name, one.offset or 0, one.length) for one in (*fields, *found.fields)),
    )


def swapped(data: bytes) -> bytes:
    """`data` with the bytes of each 16-bit word exchanged; an odd last byte stays."""
    turned = bytearray(data)
    even = len(data) // 2 * 2
    turned[0:even:2], turned[1:even:2] = data[1:even:2], data[0:even:2]
    return bytes(turned)


def _state(data: bytes, layout: Layout) -> str:
    magic = _has_magic(data, layout)
    if len(data) == layout.size and data:
        if _is_blank(data, layout, magic):
            return "blank"
        if magic:
            return "fits"
    elif magic:
        return "repeated" if _is_repeated(data, layout.size) else "size"
    # Only the words that hold the magic need turning.
    start = layout.magic_at // 2 * 2
    window = data[start : layout.magic_at + len(layout.magic) + 1]
    turned = swapped(window)[layout.magic_at - start :]
    return "swapped" if layout.magic and turned.startswith(layout.magic) else "other"


def _has_magic(data: bytes, layout: Layout) -> bool:
    return bool(layout.magic) and data[layout.magic_at : layout.magic_at + len(layout.magic)] == layout.magic


def _is_repeated(data: bytes, size: int) -> bool:
    if size <= 0 or len(data) % size or len(data) == size or len(data) > _MOST_COPIES_BYTES:
        return False
    return data[size:] == data[:-size]


def _is_blank(data: bytes, layout: Layout, magic: bool) -> bool:
    """Nothing but 00h and FFh, whole or in every field.

    Under the right magic, empty fields alone are no proof: a template leaves the identity empty. A mode field is
    never empty in a sound image, so there at least one must be among them.
    """
    if not data.strip(_FILL):
        return True
    if not layout.fields or not all(_is_fill(data, one) for one in layout.fields):
        return False
    return not magic or any(one.means.startswith("mode.") for one in layout.fields)


def _is_fill(data: bytes, one: LayoutField) -> bool:
    return not data[one.at : one.at + _width(one)].strip(_FILL)


def _width(one: LayoutField) -> int:
    return _NUMBERS[one.kind][0] if one.kind in _NUMBERS else one.length


def _value(one: LayoutField, raw: bytes) -> FieldValue:
    if one.kind in _NUMBERS:
        return int.from_bytes(raw, "little" if _NUMBERS[one.kind][1] == "little" else "big")
    if one.kind == "ascii":
        text = raw.split(b"\0", 1)[0].strip(bytes({0x20, 0xFF}))
        return text.decode("ascii", "backslashreplace")
    return raw.hex()


def _is_empty(one: LayoutField, raw: bytes) -> bool:
    """Whether the field holds only a declared fill: one fill throughout, for a text any mixture of them."""
    if one.kind == "ascii":
        return not raw.strip(bytes(_fills(one)))
    return any(raw == bytes((fill,)) * len(raw) for fill in _fills(one))


def _fills(one: LayoutField) -> Iterable[int]:
    return (fill for fill in one.empty if 0 <= fill <= 0xFF)


def _sum_ok(data: bytes, declared: LayoutSum) -> bool | None:
    """Whether the declared sum holds; None where its range or place is not inside the bytes."""
    if declared.kind not in SUMS or not 0 <= declared.start < declared.end <= len(data):
        return None
    sums, width = SUMS[declared.kind]
    have = sums(data[declared.start : declared.end])
    if declared.total is not None:
        return have == declared.total
    if declared.at is None or not 0 <= declared.at <= len(data) - width:
        return None
    return have == int.from_bytes(data[declared.at : declared.at + width], "little")
