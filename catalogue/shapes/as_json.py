"""Values as the command line prints them in JSON; KIT.JSN on a medium holds the kit object made here.

The keys are those of the command line's contract, in a fixed order; further keys may stand beside them. The same
value always gives the same text. Text is never lost: `as_text` writes every character beyond ASCII, control
characters and lone surrogates (bytes of a file name that are not UTF-8) as JSON escapes (RFC 8259, section 7).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from pathlib import PurePath
from typing import TypeAlias

from catalogue.shapes.changes import Changes
from catalogue.shapes.draft import Draft
from catalogue.shapes.finding import Evidence, Finding
from catalogue.shapes.kit import Kit, RoleChoice
from catalogue.shapes.mending import Explained
from catalogue.shapes.piece import PieceDetail, PieceInfo, Place
from catalogue.shapes.reading import CardId, Reading
from catalogue.shapes.results import (
    Accepted,
    FamilyInfo,
    FamilyMatch,
    IndexSummary,
    ReadBack,
    WriteOut,
)

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"
"""What a JSON text can say."""


def to_json(value: object) -> Json:
    """`value` as plain dicts, lists, text and numbers, with the contract's keys where the contract names the shape.

    Shapes without keys of their own in the contract give one key a field; bytes become lower-case hex, sets are
    sorted, mappings are sorted by key, and what a task changed (`Changes`) is left out: it is for the window.

    Raises TypeError for anything else, which is a bug of the caller.
    """
    if value is None or isinstance(value, bool | float):
        return value
    if isinstance(value, Enum):
        return to_json(value.value)
    if isinstance(value, int):
        return int(value)
    if isinstance(value, str):
        return str(value)
    made = _SHAPES.get(type(value))
    if made is not None:
        return made(value)
    if isinstance(value, bytes | bytearray):
        return bytes(value).hex()
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, PurePath):
        return str(value)
    if isinstance(value, Mapping):
        return {str(key): to_json(value[key]) for key in sorted(value, key=str)}
    if isinstance(value, AbstractSet):
        return [to_json(one) for one in sorted(value)]
    if is_dataclass(value) and not isinstance(value, type):
        return _by_fields(value)
    if isinstance(value, Iterable):
        return [to_json(one) for one in value]
    raise TypeError(f"no JSON for {type(value).__name__}")


def as_text(value: object, *, indent: int | None = 1) -> str:
    """`value` as JSON text: ASCII only, the same each time, with a line end after it."""
    return json.dumps(to_json(value), ensure_ascii=True, allow_nan=False, indent=indent) + "\n"


def kit_object(kit: Kit) -> dict[str, Json]:
    """The kit object of the contract, with all that is needed to build the kit again from it."""
    return {
        "id": kit.id,
        "family": kit.family,
        "route": kit.route,
        "verdict": kit.verdict,
        "roles": [_role(one) for one in kit.roles],
        "findings": [finding_object(one) for one in kit.findings],
        "family_title": kit.family_title,
        "family_sha256": kit.family_sha256,
        "pieces": to_json(kit.pieces),
        "pins": to_json(kit.pins),
        "words": to_json(kit.words),
        "said": to_json(kit.said),
        "host": to_json(kit.host),
        "saved": to_json(kit.saved),
    }


def finding_object(finding: Finding) -> dict[str, Json]:
    """One finding with its evidence, as it stands in a kit object or beside a read-back."""
    return {
        "code": finding.code,
        "level": finding.level.value,
        "clearable": finding.clearable,
        "cleared_by": to_json(finding.cleared_by),
        "role": finding.role,
        "piece": finding.piece,
        "text": finding.text,
        "evidence": [_evidence(one) for one in finding.evidence],
        "remedy": finding.remedy,
    }


def piece_object(info: PieceInfo) -> dict[str, Json]:
    """One piece as lists print it."""
    return {
        "sha256": info.sha256,
        "size": info.size,
        "kind": info.kind,
        "title": info.title,
        "places": to_json(info.places),
        "ids": to_json(info.ids),
        "versions": to_json(info.versions),
        "dates": to_json(info.dates),
        "faults": to_json(info.faults),
        "vouch": to_json(info.vouch),
    }


def reading_object(reading: Reading) -> dict[str, Json]:
    """What a reader found, with its parts. A field's meaning and source stand beside its value."""
    made: dict[str, Json] = {
        "format": reading.format,
        "kind": reading.kind,
        "title": reading.title,
        "offset": reading.offset,
        "length": reading.length,
        "inside": reading.inside,
        "fields": to_json(reading.fields),
        "parts": [reading_object(one) for one in reading.parts],
        "ids": to_json(reading.ids),
        "versions": to_json(reading.versions),
        "dates": to_json(reading.dates),
        "faults": to_json(reading.faults),
        "notes": to_json(reading.notes),
        "spans": to_json(reading.spans),
    }
    if reading.entries:
        made["entries"] = to_json(reading.entries)
    if reading.members:
        made["members"] = to_json(reading.members)
    return made


def _by_fields(value: object) -> dict[str, Json]:
    assert is_dataclass(value)
    return {
        one.name: to_json(getattr(value, one.name))
        for one in fields(value)
        if not isinstance(getattr(value, one.name), Changes)
    }


def _evidence(one: Evidence) -> Json:
    return {
        "place": one.place,
        "field": one.field,
        "offset": one.offset,
        "length": one.length,
        "want": one.want,
        "have": one.have,
    }


def _role(choice: RoleChoice) -> Json:
    return {
        "role": choice.role,
        "pieces": to_json(choice.pieces),
        "version": choice.version,
        "fit": choice.fit,
        "vouch": choice.vouch,
        "age": choice.age,
        "left_out": choice.left_out,
        "others": to_json(choice.others),
        "needed": choice.needed,
        "written": choice.written,
        "version_source": choice.version_source,
        "vouched_by": to_json(choice.vouched_by),
    }


def _card_id(one: CardId) -> Json:
    return {"vendor": one.vendor, "device": one.device, "devices": list(one.devices), "class": one.class_code}


def _detail(detail: PieceDetail) -> Json:
    made = piece_object(detail.info)
    made["reading"] = reading_object(detail.reading)
    made["contradicted"] = to_json(detail.contradicted)
    made["signatures"] = to_json(detail.signatures)
    made["id_names"] = to_json(detail.id_names or {})
    return made


def _index(done: IndexSummary) -> Json:
    return {
        "files": done.files,
        "pieces": done.pieces,
        "archives": done.archives,
        "new": done.new,
        "changed": done.changed,
        "unchanged": done.unchanged,
        "gone": done.gone,
        "unreadable": to_json(done.unreadable),
        "seconds": done.seconds,
    }


def _family(info: FamilyInfo) -> Json:
    return {
        "id": info.id,
        "name": info.title,
        "modes": to_json(info.modes),
        "roles": to_json(info.roles),
        "routes": to_json(info.routes),
        "settled": info.settled,
        "extends": info.extends,
        "changes": to_json(info.changes),
        "file": info.file,
        "problems": to_json(info.problems),
        "as_of": to_json(info.as_of),
        "shipped": info.shipped,
        "came": info.came,
    }


def _family_match(match: FamilyMatch) -> Json:
    return {"id": match.id, "mode": match.mode, "why": match.why, "name": match.title}


def _draft(made: Draft) -> Json:
    inferred: list[Json] = [
        {"line": one.line, "from": one.source, "text": one.text, "piece": one.piece, "offset": one.offset}
        for one in made.inferred
    ]
    return {
        "file": made.file,
        "inferred": inferred,
        "asks": to_json(made.asks),
        "text": made.text,
        "pieces": made.pieces,
        "said": to_json(made.said),
    }


def _accepted(done: Accepted) -> Json:
    return {
        "id": done.id,
        "sha256": done.sha256,
        "settled": done.settled,
        "problems": to_json(done.problems),
        "proof": to_json(done.proof),
        "update": to_json(done.update),
    }


def _write_out(done: WriteOut) -> Json:
    return {
        "target": done.target,
        "kit": done.kit.id,
        "files": to_json(done.files),
        "read_back": done.read_back,
        "folder": done.folder,
        "findings": [finding_object(one) for one in done.findings],
        "judged": kit_object(done.kit),
    }


def _read_back(done: ReadBack) -> Json:
    return {
        "target": done.target,
        "files": to_json(done.files),
        "findings": [finding_object(one) for one in done.findings],
        "read_back": done.read_back,
    }


def _explained(done: Explained) -> Json:
    """The kit object as it is, and beside it what was asked about it."""
    made = kit_object(done.kit)
    if done.why is not None:
        made["why"] = to_json(done.why)
    if done.mend is not None:
        made["mend"] = to_json(done.mend)
    return made


_SHAPES: Mapping[type, Callable[..., Json]] = {
    Accepted: _accepted,
    CardId: _card_id,
    Draft: _draft,
    Evidence: _evidence,
    Explained: _explained,
    FamilyInfo: _family,
    FamilyMatch: _family_match,
    Finding: finding_object,
    IndexSummary: _index,
    Kit: kit_object,
    PieceDetail: _detail,
    PieceInfo: piece_object,
    Place: str,
    ReadBack: _read_back,
    Reading: reading_object,
    RoleChoice: _role,
    WriteOut: _write_out,
}
