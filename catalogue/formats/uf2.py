"""UF2: firmware in blocks of 512 bytes, each with the address it is loaded at.

USB Flashing Format (UF2), the specification its makers publish with their source (numbers from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from struct import Struct

from catalogue.formats import inner
from catalogue.formats.hex_memory import Memory, decoded_parts, told
from catalogue.formats.limits import MAX_HEX_RUNS, MAX_STRINGS, MAX_TEXT, MAX_UF2_BLOCKS
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import Kind, Row, read_rows
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, VersionClaim

SOURCE = "UF2 specification, file format"
BLOCK = 512
_MAGIC = b"UF2\n\x57\x51\x5d\x9e"
_END = b"\x30\x6f\xb1\x0a"
_HEAD = Struct("<8s6I")
_DATA_AT, _MOST_DATA = 32, 476
_NOT_FLASH, _CONTAINER, _FAMILY, _TAGS = 0x0001, 0x1000, 0x2000, 0x8000
_VERSION_TAG, _DESCRIPTION_TAG = 0x9FC7BC, 0x650D9D
_ROWS = (
    Row("flags", 8, 4, Kind.LE, SOURCE, "1 not for flash, 1000h file container, 2000h family, 4000h MD5, 8000h tags"),
    Row("first_address", 12, 4, Kind.LE, SOURCE, "Where the first block is loaded"),
    Row("block_count", 24, 4, Kind.LE, SOURCE, "Blocks of the file"),
    Row("family", 28, 4, Kind.LE, SOURCE, "Board family where flag 2000h is set, else the file's size"),
)
_MOST_FAULTS = 20
_STEP = 256


def looks_like(view: View) -> Looks:
    """SURE of a first block with all three magic numbers."""
    head = view.at(0, BLOCK)
    return Looks.SURE if len(head) == BLOCK and _is_block(head) else Looks.NO


def _is_block(raw: bytes) -> bool:
    return raw.startswith(_MAGIC) and raw.endswith(_END)


@dataclass(slots=True)
class _Blocks:
    """The blocks of a file while they are read. `total` is what the last one says there are."""

    memory: Memory = field(default_factory=Memory)
    fields: list[Field] = field(default_factory=list)
    versions: list[VersionClaim] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    seen: set[int] = field(default_factory=set)
    total: int = 0
    other: int = 0
    full: bool = False

    def take(self, raw: bytes, offset: int) -> None:
        """One block, which stands at `offset`."""
        if not _is_block(raw):
            self.faults.append(Fault("uf2-damaged", f"Block {offset // BLOCK} has not the magic numbers.", offset))
            return
        _, flags, address, size, number, self.total, _ = _HEAD.unpack_from(raw)
        if size > _MOST_DATA:
            text = f"Block {number} says that it holds {size} bytes."
            self.faults.append(Fault("uf2-damaged", text, offset + 16))
        elif flags & (_NOT_FLASH | _CONTAINER):
            self.other += 1
        else:
            self.seen.add(number)
            self.full = not self.memory.load(address, raw[_DATA_AT : _DATA_AT + size]) or self.full
            if flags & _TAGS and offset == 0:
                at = _DATA_AT + (size + 3) // 4 * 4
                _tags(raw[at:-4], at, self.fields, self.versions)


def _parse(view: View) -> _Blocks:
    """The blocks that fill `view`, up to where too much is wrong."""
    found = _Blocks()
    count = min(view.size // BLOCK, MAX_UF2_BLOCKS)
    for first in range(0, count, _STEP):
        chunk = view.at(first * BLOCK, min(_STEP, count - first) * BLOCK)
        for at in range(0, len(chunk), BLOCK):
            found.take(chunk[at : at + BLOCK], first * BLOCK + at)
            if len(found.faults) >= _MOST_FAULTS:
                found.notes.append(Fault("uf2-odd", "The rest was not read: too much is wrong."))
                return found
    return found


def memory_of(view: View) -> Memory:
    """The bytes that the blocks of `view` load. Raises nothing but the view's own OSError."""
    return _parse(view).memory


def read(view: View) -> Reading | None:
    """The blocks that fill `view`, and what their bytes are; None where none begins there."""
    if looks_like(view) is Looks.NO:
        return None
    blocks = _parse(view)
    fields = [*read_rows(_ROWS, view, 0).values(), *blocks.fields]
    memory, versions, faults, notes = blocks.memory, blocks.versions, blocks.faults, blocks.notes
    count = min(view.size // BLOCK, MAX_UF2_BLOCKS)
    if blocks.full or view.size // BLOCK > MAX_UF2_BLOCKS:
        text = f"It is not loaded whole: {MAX_UF2_BLOCKS} blocks and {MAX_HEX_RUNS} runs of bytes are the most."
        notes.append(Fault("uf2-odd", text))
    if view.size % BLOCK:
        faults.append(Fault("cut-short", "The file ends inside a block.", view.size))
    missing = blocks.total - len(blocks.seen) - blocks.other
    if missing > 0 and not faults and view.size // BLOCK <= MAX_UF2_BLOCKS:
        faults.append(Fault("uf2-damaged", f"Of {blocks.total} blocks {missing} are missing.", 24))
    if blocks.other:
        notes.append(Fault("uf2-odd", f"Blocks that are not for flash: {blocks.other}; they were not loaded."))
    stretches, twice = memory.stretches()
    if twice:
        notes.append(Fault("uf2-odd", f"Bytes loaded twice: {twice}; the later ones count."))
    with inner.reading(view):
        parts = tuple(decoded_parts(memory, stretches, SOURCE))
    loaded = sum(end - start for start, end in stretches)
    fields.append(Field("bytes_loaded", loaded, None, 0, "Bytes it loads", SOURCE))
    versions += told(parts)
    title = f"UF2, {count} block{'s' if count != 1 else ''}"
    return Reading(
        format=READER.name,
        kind="uf2",
        title=f"{title}: {parts[0].parts[0].title}" if parts and parts[0].parts else title,
        length=view.size,
        fields=tuple(fields),
        parts=parts,
        ids=tuple(dict.fromkeys(card for part in parts for card in part.ids)),
        versions=tuple(versions[:MAX_STRINGS]),
        faults=tuple(faults),
        notes=tuple(notes),
    )


def _tags(raw: bytes, base: int, fields: list[Field], versions: list[VersionClaim]) -> None:
    """The extension tags of the first block: size with this head, type, content."""
    at = 0
    while at + 4 <= len(raw) and raw[at] >= 4:
        kind, body = int.from_bytes(raw[at + 1 : at + 4], "little"), raw[at + 4 : at + raw[at]]
        text = body.decode("utf-8", "replace")[:MAX_TEXT]
        name = {_VERSION_TAG: "firmware_version", _DESCRIPTION_TAG: "device"}.get(kind)
        if name is not None and text and not any(one.name == name for one in fields):
            fields.append(Field(name, text, base + at + 4, len(body), "Extension tag", SOURCE))
            if kind == _VERSION_TAG:
                versions.append(VersionClaim(text, "UF2 version tag", base + at + 4))
        at = (at + raw[at] + 3) // 4 * 4


READER = Reader(
    name="uf2",
    first=(_MAGIC[:4],),
    kinds=("uf2",),
    looks_like=looks_like,
    read=read,
    version=1,
    source="USB Flashing Format (UF2) specification",
    depth="every block, family, version tag; the decoded bytes with their own SHA-256, gaps, and what they are",
)
