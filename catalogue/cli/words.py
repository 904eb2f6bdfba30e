"""How values look in lines for a person. Nothing from a file is printed unescaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from catalogue.shapes.finding import Evidence, Finding, Level
from catalogue.shapes.piece import PieceInfo, Vouch
from catalogue.shapes.reading import CardId, DateClaim, VersionClaim
from catalogue.shapes.visible import visible

LEVEL_WORDS = {Level.STOP: "STOP", Level.CAUTION: "caution", Level.NOTE: "note"}


def columns(rows: Iterable[Sequence[str]], head: Sequence[str] = ()) -> list[str]:
    """Rows under one another, each column as wide as its widest cell, two blanks between."""
    table = [list(head), *map(list, rows)] if head else [list(row) for row in rows]
    if not table:
        return []
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in table]


def size(count: int) -> str:
    """Bytes, with thin groups of three."""
    return "1 byte" if count == 1 else f"{count:,} bytes".replace(",", " ")


def count(number: int, one: str) -> str:
    """ "1 piece", "3 pieces"."""
    return f"{number} {one}{'' if number == 1 else 's'}"


def pci(card: CardId) -> str:
    """A card's IDs as four hex digits each, with how many more devices its list names."""
    more = len([device for device in card.devices if device != card.device])
    return f"{card.vendor:04x}:{card.device:04x}" + (f" and {more} more" if more else "")


def version(claim: VersionClaim) -> str:
    """A version with the source it was read from; never a bare number."""
    where = "" if claim.offset is None else f" at {claim.offset:x}h"
    return f"{visible(claim.value, 60)} ({visible(claim.source, 60)}{where})"


def short_version(claim: VersionClaim) -> str:
    """A version and where it was read, short enough for a column."""
    return f"{visible(claim.value, 24)} ({visible(claim.source, 40)})"


def stamp(claim: DateClaim) -> str:
    """A date with the source it was read from."""
    where = "" if claim.offset is None else f" at {claim.offset:x}h"
    return f"{visible(claim.value, 20)} ({visible(claim.source, 80)}{where})"


def short_vouch(vouch: Vouch) -> str:
    """The best rung with whoever gives it, short enough for a column."""
    return f"{vouch.rung}, {visible(vouch.by, 60)}"


def vouch_line(vouch: Vouch) -> str:
    """One reason to trust a piece's bytes: the rung, by whom, at which place and line, since when."""
    where = f" ({visible(vouch.place, 200)})" if vouch.place else ""
    since = f", since {visible(vouch.since[:10], 10)}" if vouch.since else ""
    return f"{vouch.rung}, by {visible(vouch.by, 200)}{where}{since}"


def piece_line(piece: PieceInfo) -> tuple[str, str, str, str, str, str]:
    """One row of a list of pieces."""
    places = len(piece.places)
    first = visible(str(piece.places[0]), 120) if piece.places else "no place now"
    return (
        piece.sha256[:12],
        piece.kind,
        ", ".join(pci(card) for card in piece.ids[:2]) or "-",
        short_version(piece.versions[0]) if piece.versions else "-",
        short_vouch(piece.vouch[0]) if piece.vouch else "none",
        first + (f" (and {places - 1} more)" if places > 1 else ""),
    )


def evidence_line(evidence: Evidence) -> str:
    """One line of evidence."""
    parts = [visible(evidence.place, 160)]
    if evidence.field:
        parts.append(visible(evidence.field, 120))
    if evidence.offset is not None:
        parts.append(f"at {evidence.offset:x}h")
    if evidence.want:
        parts.append(f"wanted {visible(evidence.want, 120)}")
    if evidence.have:
        parts.append(f"found {visible(evidence.have, 120)}")
    return ", ".join(part for part in parts if part)


def finding_lines(finding: Finding) -> list[str]:
    """A finding: what is wrong, how we know, what to do."""
    about = " · ".join(part for part in (finding.role, finding.piece and finding.piece[:12]) if part)
    lines = [f"{LEVEL_WORDS[finding.level]}  {finding.code}" + (f"  ({about})" if about else "")]
    lines.append(f"    {visible(finding.text, 600)}")
    lines += [f"    seen: {evidence_line(one)}" for one in finding.evidence[:6]]
    if len(finding.evidence) > 6:
        lines.append(f"    seen: and {len(finding.evidence) - 6} more places")
    if finding.cleared_by:
        lines.append(f"    cleared by {visible(finding.cleared_by.by, 80)}: {visible(finding.cleared_by.reason, 200)}")
    elif finding.clearable:
        lines.append(f"    a person's word may clear this: --word {finding.code}={(finding.piece or '')[:12]}")
    lines.append(f"    do:   {visible(finding.remedy, 400)}")
    return lines
