"""Readings as text and back, exactly: what a reader found is what comes out again, whatever the format.

A reading is a JSON array in the order of the dataclass's fields, with empty tails cut off. Tuples stand as arrays;
text is ASCII with JSON escapes, so that lone surrogates pass (RFC 8259, section 7). The records of a field's value
stand as objects.
"""

from __future__ import annotations

import json
from typing import Any

from catalogue.shapes.reading import (
    CardId,
    DateClaim,
    Fault,
    Field,
    FieldValue,
    ListEntry,
    Member,
    Reading,
    SignedBy,
    Span,
    VersionClaim,
)

Json = Any


def dump(reading: Reading) -> str:
    """The reading as one line of ASCII."""
    return json.dumps(_out(reading), separators=(",", ":"), default=_record)


def load(text: str) -> Reading:
    """The reading that `dump` was given. Raises ValueError for anything else."""
    try:
        return _in(json.loads(text))
    except (TypeError, LookupError, RecursionError) as error:
        raise ValueError(f"not a stored reading: {error}") from error


def is_plain(reading: Reading) -> bool:
    """Whether format, kind, title and length say all of it, so that no text need be kept."""
    return not (
        reading.fields
        or reading.parts
        or reading.ids
        or reading.versions
        or reading.faults
        or reading.notes
        or reading.entries
        or reading.members
        or reading.spans
        or reading.inside
        or reading.dates
        or reading.layer
        or reading.offset
    )


def _out(r: Reading) -> list[Json]:
    made: list[Json] = [
        r.format,
        r.kind,
        r.title,
        r.offset,
        r.length,
        [[f.name, f.value, f.offset, f.length, f.meaning, f.source] for f in r.fields],
        [_out(part) for part in r.parts],
        [[i.vendor, i.device, i.devices, i.class_code] for i in r.ids],
        [[v.value, v.source, v.offset, v.trust] for v in r.versions],
        [[f.code, f.text, f.offset] for f in r.faults],
        [[f.code, f.text, f.offset] for f in r.notes],
        [[e.algorithm, e.digest, e.name, e.line] for e in r.entries],
        [
            [
                m.name,
                m.size,
                m.packed_size,
                m.crc32,
                m.encrypted,
                m.folder,
                m.fault,
                m.header_offset,
                m.method,
                m.flags,
            ]
            for m in r.members
        ],
        [[s.name, s.offset, s.length] for s in r.spans],
        r.inside,
        [[d.value, d.source, d.offset] for d in r.dates],
        r.layer,
    ]
    while len(made) > 5 and not made[-1]:
        made.pop()
    return made


def _in(a: list[Json]) -> Reading:
    if len(a) < 5:
        raise ValueError("not a stored reading: it is cut short")
    a = a + [[]] * (14 - len(a)) if len(a) < 15 else a
    return Reading(
        format=a[0],
        kind=a[1],
        title=a[2],
        offset=a[3],
        length=a[4],
        fields=tuple(Field(f[0], _value(f[1]), *f[2:]) for f in a[5]),
        parts=tuple(_in(part) for part in a[6]),
        ids=tuple(CardId(i[0], i[1], tuple(i[2]), i[3]) for i in a[7]),
        versions=tuple(VersionClaim(*v) for v in a[8]),
        faults=tuple(Fault(*f) for f in a[9]),
        notes=tuple(Fault(*f) for f in a[10]),
        entries=tuple(ListEntry(*e) for e in a[11]),
        members=tuple(Member(*m) for m in a[12]),
        spans=tuple(Span(*s) for s in a[13]),
        inside=a[14] if len(a) > 14 else "",
        dates=tuple(DateClaim(*d) for d in a[15]) if len(a) > 15 else (),
        layer=a[16] if len(a) > 16 else 0,
    )


def _record(value: object) -> Json:
    if not isinstance(value, SignedBy):
        raise TypeError(f"no text for {type(value).__name__}")
    return {"subject": value.subject, "issuer": value.issuer, "expires": value.expires}


def _value(value: Json) -> FieldValue:
    if not isinstance(value, list):
        plain: FieldValue = value
        return plain
    if value and isinstance(value[0], dict):
        return tuple(SignedBy(**one) for one in value)
    return tuple(value)
