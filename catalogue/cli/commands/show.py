"""kitproof show PATH-OR-HASH"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.cli.given import place
from catalogue.shapes.piece import PieceDetail
from catalogue.shapes.progress import Progress
from catalogue.shapes.reading import CardId, Reading, SignedBy
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

HEX_NAMES = {"_id": 4, "class_code": 6, "machine": 4, "code_type": 2, "signature": 4, "fill": 2}
HEX_NAMES |= dict.fromkeys(("mode.vendor", "mode.device", "mode.subvendor", "mode.subdevice"), 4)
"""Ends of the names of fields that are read in hex, and the least digits each has."""

SIGNATURES = {
    "holds": "holds",
    "broken": "is not of these bytes",
    "unproved": "is not relied on",
    "taken-back": "is by a key that was taken back",
    "no-key": "was not checked",
}
"""How a signature beside the piece stands to its bytes."""


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "what", metavar="PATH-OR-HASH", type=place, help="a file (indexed or not), or a hash or its unique beginning"
    )


def value_words(name: str, value: object) -> str:
    """The value of the field called `name`, for a person."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        digits = next((least for ends, least in HEX_NAMES.items() if name.endswith(ends)), 0)
        return f"{value:0{digits}X}h" if digits else str(value)
    if isinstance(value, tuple):
        texts = [f"{one:04X}h" if isinstance(one, int) else _words(one) for one in value[:16]]
        return (", ".join(texts) or "none") + (f" and {len(value) - 16} more" if len(value) > 16 else "")
    return "-" if value is None else visible(str(value), 200)


def _words(one: object) -> str:
    if isinstance(one, CardId):
        return words.pci(one)
    return visible(str(one), 160 if isinstance(one, SignedBy) else 64)


def _reading(reading: Reading, depth: int = 0) -> list[str]:
    pad = "  " * depth
    where = f"{reading.offset:x}h, {words.size(reading.length)}" if depth else words.size(reading.length)
    inside = ", offsets count in the unpacked bytes" if reading.inside else ""
    lines = [f"{pad}{visible(reading.title, 160)}  [{reading.kind}] ({where}{inside})"]
    rows = [
        (
            f"{pad}  {field.name.replace('_', ' ')}",
            value_words(field.name, field.value),
            "" if field.offset is None else f"at {field.offset:x}h, {words.size(field.length)}",
            field.meaning,
        )
        for field in reading.fields
    ]
    lines += words.columns(rows)
    for name, faults in (("fault", reading.faults), ("note", reading.notes)):
        for fault in faults:
            at = "" if fault.offset is None else f" (at {fault.offset:x}h)"
            lines.append(f"{pad}  {name} {fault.code}: {visible(fault.text, 300)}{at}")
    for part in reading.parts:
        lines += _reading(part, depth + 1)
    return lines


def _lines(detail: PieceDetail) -> list[str]:
    info = detail.info
    lines = [f"SHA-256 {info.sha256}", *_reading(detail.reading)]
    lines += [f"version {words.version(claim)}" for claim in info.versions[:20]]
    lines += [f"date {words.stamp(claim)}" for claim in info.dates[:20]]
    for name, text in sorted((detail.id_names or {}).items()):
        lines.append(f"{name} is {visible(text, 120)} in the PCI ID list")
    lines += [f"lies at {visible(str(place), 300)}" for place in info.places[:50]]
    lines += [f"vouched for: {words.vouch_line(vouch)}" for vouch in info.vouch] or ["vouched for: by nobody yet"]
    lines += [
        f"contradicted by {visible(one.place, 200)}, line {one.line}: {one.algorithm} {one.want}, found {one.have}"
        for one in detail.contradicted
    ]
    lines += [
        f"signature {visible(one.place, 200)} {SIGNATURES[one.state]}, by {visible(one.key, 200)}"
        + (f": {visible(one.why, 300)}" if one.why else "")
        for one in detail.signatures
    ]
    return lines


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import show

    detail = show.run(context, given.what)
    return Answer(detail, tuple(_lines(detail)), 1 if detail.info.faults else 0)


COMMAND = Command("show", "Show one piece, read in full.", "the piece has faults", _arguments, _run)
