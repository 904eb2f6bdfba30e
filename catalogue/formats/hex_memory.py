"""What a text of hex records loads: runs of bytes at addresses, put together, and a reading of what they are."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

from catalogue.formats import inner, opaque
from catalogue.formats.limits import MAX_FIELDS, MAX_HEX_FAULTS, MAX_HEX_RUNS, MAX_STRINGS, MAX_UNPACKED
from catalogue.formats.view import BytesView, View
from catalogue.shapes.reading import Fault, Field, Reading, VersionClaim

DECODED = "decoded"
"""The format of a part that is the decoded bytes."""
LOOKS = "hex-text"
"""What kits know such a text by: it is no piece for a card as it lies."""
FILL = 0xFF
"""Erased flash memory, as the bytes of a gap are taken to be."""
_MOST_PARTS = 64
_MOST_GAPS = 64


@dataclass(slots=True)
class Memory:
    """The bytes loaded, in the order of the records; `runs` join where one follows another."""

    runs: list[tuple[int, bytearray]] = field(default_factory=list)

    def load(self, address: int, data: bytes) -> bool:
        """Put `data` at `address`; False where there are more runs than are kept."""
        if self.runs:
            start, last = self.runs[-1]
            if start + len(last) == address:
                last += data
                return True
        if len(self.runs) >= MAX_HEX_RUNS:
            return False
        self.runs.append((address, bytearray(data)))
        return True

    def stretches(self) -> tuple[list[tuple[int, int]], int]:
        """The stretches [start, end) that hold bytes, by address, and how many bytes were loaded twice."""
        joined: list[tuple[int, int]] = []
        twice = 0
        for start, end in sorted((start, start + len(run)) for start, run in self.runs):
            if joined and start <= joined[-1][1]:
                first, last = joined[-1]
                twice += min(end, last) - start
                joined[-1] = (first, max(last, end))
            else:
                joined.append((start, end))
        return joined, twice

    def image(self, start: int, end: int) -> bytes:
        """The bytes of [start, end), gaps filled; where records overlap the last one counts."""
        made = bytearray([FILL]) * (end - start)
        for at, run in self.runs:
            if start <= at < end:
                made[at - start : at - start + len(run)] = run
        return bytes(made)


@dataclass(slots=True)
class Records:
    """A text of records while it is read. `good` and `bad` count its lines, `other` those that are no records.

    `counted`: the last record read says, rightly, how many there are.
    """

    memory: Memory = field(default_factory=Memory)
    fields: list[Field] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    good: int = 0
    bad: int = 0
    other: int = 0
    ended: bool = False
    counted: bool = False
    full: bool = False

    def wrong(self, number: int, why: str, at: int) -> None:
        """Note a line that is no sound record."""
        self.bad += 1
        if len(self.faults) < MAX_HEX_FAULTS:
            self.faults.append(Fault("hex-damaged", f"Line {number}: {why}.", at))

    def load(self, address: int, data: bytes) -> None:
        """Put the data of one record in memory."""
        if data and not self.memory.load(address, data):
            self.full = True


def lines_of(data: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Every line that is not blank: its number from 1, where it begins, and its bytes without blanks round it."""
    at = 0
    for number, line in enumerate(data.split(b"\n"), 1):
        shown = line.strip(b" \t\r\x1a\0")
        if shown:
            yield number, at, shown
        at += len(line) + 1


def reading(view: View, records: Records, name: str, kind: str, title: str, source: str) -> Reading | None:
    """The reading of a text whose records were read; None where it is hardly one."""
    if not records.good or records.bad + records.other > 2 + records.good // 4:
        return None
    faults, notes = records.faults, records.notes
    if not records.ended and records.counted:
        text = "No record says that this is the end; the records before it are as many as the last one counts."
        notes.append(Fault("hex-odd", text, view.size))
    elif not records.ended:
        faults.append(Fault("hex-damaged", "No record says that this is the end.", view.size))
    if records.other:
        notes.append(Fault("hex-odd", f"Lines that are no records: {records.other}."))
    if records.full:
        notes.append(Fault("hex-odd", f"It loads more than {MAX_HEX_RUNS} runs of bytes; the rest was not loaded."))
    stretches, twice = records.memory.stretches()
    if twice:
        notes.append(Fault("hex-odd", f"Bytes loaded twice: {twice}; the later ones count."))
    gaps = [(before[1], after[0]) for before, after in pairwise(stretches)]
    if gaps:
        notes.append(Fault("hex-gaps", f"Gaps between its bytes: {len(gaps)}."))
    loaded = sum(end - start for start, end in stretches)
    with inner.reading(view):
        parts = tuple(decoded_parts(records.memory, stretches, source))
    fields = [
        Field("looks", LOOKS, None, 0, "What it is by its beginning"),
        Field("records", records.good, None, 0, "Records with a sum that holds", source),
        Field("bytes_loaded", loaded, None, 0, "Bytes it loads", source),
        Field("end_record", records.ended, None, 0, "Whether a record says that this is the end", source),
        *records.fields,
    ]
    if stretches:
        title += f", {loaded} bytes at {stretches[0][0]:X}h"
        what = parts[0].parts[0].title if len(parts) == 1 and parts[0].parts else ""
        title += f": {what}" if what else ""
    return Reading(
        format=name,
        kind=kind,
        title=title,
        length=view.size,
        fields=tuple(fields[:MAX_FIELDS]),
        parts=parts,
        ids=tuple(dict.fromkeys(card for part in parts for card in part.ids)),
        versions=told(parts),
        faults=tuple(faults),
        notes=tuple(notes),
    )


def told(parts: tuple[Reading, ...]) -> tuple[VersionClaim, ...]:
    """The versions in the decoded bytes, which stand nowhere in the text itself."""
    claims = (one for part in parts for one in part.versions)
    return tuple(replace(one, source=f"{one.source} in the decoded bytes", offset=None) for one in claims)[:MAX_STRINGS]


def decoded_parts(memory: Memory, stretches: list[tuple[int, int]], source: str) -> Iterator[Reading]:
    """One part for all that is loaded where that is not too far apart, else one a stretch."""
    if not stretches:
        return
    first, last = stretches[0][0], stretches[-1][1]
    groups = [stretches] if last - first <= MAX_UNPACKED else [[one] for one in stretches[:_MOST_PARTS]]
    for group in groups:
        start, end = group[0][0], group[-1][1]
        if end - start <= inner.left_to_unpack():
            inner.was_unpacked(end - start)
            yield _part(memory.image(start, end), start, group, source)


def _part(data: bytes, start: int, group: list[tuple[int, int]], source: str) -> Reading:
    """The decoded bytes, with their own hash and what they are."""
    gaps = [(before[1], after[0]) for before, after in pairwise(group)]
    shown = tuple(f"{at:X}h-{stop - 1:X}h" for at, stop in gaps[:_MOST_GAPS])
    known = inner.known_unpacked(data)
    claims = known.versions if known is not None else opaque.read(BytesView(data)).versions
    what = known.title if known is not None else opaque.TITLE
    return Reading(
        format=DECODED,
        kind="decoded-bytes",
        title=f"{len(data)} bytes from {start:X}h: {what}",
        length=len(data),
        fields=(
            Field("sha256", hashlib.sha256(data).hexdigest(), None, 0, "SHA-256 of the decoded bytes, gaps as FFh"),
            Field("size", len(data), None, 0, "Bytes from the first to the last address", source),
            Field("first_address", start, None, 0, "Where they are loaded", source),
            Field("gaps", shown, None, 0, "Addresses without bytes; they are taken to be FFh", source),
            Field("gap_bytes", sum(stop - at for at, stop in gaps), None, 0, "Bytes in all gaps", source),
        ),
        parts=(known,) if known is not None else (),
        ids=known.ids if known is not None else (),
        versions=claims,
        inside=inner.UNPACKED,
        layer=1,
    )


def decoded(view: View, whole: Reading, part: int = 0) -> bytes | None:
    """The decoded bytes of a part of `whole`, the reading of the hex text or UF2 file `view`; None without such a part.

    They are what offsets in that part count in. Raises nothing but the view's own OSError.
    """
    from catalogue.formats import intel_hex, s_record, uf2

    if not 0 <= part < len(whole.parts) or whole.parts[part].format != DECODED:
        return None
    start, size = whole.parts[part].value("first_address"), whole.parts[part].length
    assert isinstance(start, int)
    if whole.format == uf2.READER.name:
        return uf2.memory_of(view).image(start, start + size)
    parse = intel_hex.parse if whole.format == intel_hex.READER.name else s_record.parse
    return parse(view).memory.image(start, start + size)
