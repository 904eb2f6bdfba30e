"""Gather what a kit is judged from: every piece that could be near a role of the family, as values.

What the family's patterns and magics find in a piece is kept by SHA-256 and pattern, so that a piece's bytes are
looked through once.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from catalogue.families import patterns
from catalogue.families.model import Family
from catalogue.formats import eeprom_image
from catalogue.formats.opaque import fill_byte
from catalogue.formats.view import BytesView
from catalogue.intake import fetch, whole
from catalogue.kits import addresses
from catalogue.kits.candidate import Candidate
from catalogue.shapes.from_json import from_json_kit
from catalogue.shapes.host import NO_HOST, Host
from catalogue.shapes.layout import Layout
from catalogue.shapes.piece import Beside, PieceFacts, Place
from catalogue.shapes.progress import Progress
from catalogue.shapes.reading import Match
from catalogue.store import Store, evidence
from catalogue.tasks import driver_trust

MOST_BYTES = 64 << 20
"""Pieces longer than this are not looked through (family-file contract)."""
BATCH = 2_000
"""Answers written at once."""
TRIMMED = "\0trimmed"
"""Stands for "the bytes without their last run of one fill byte" among the patterns; its value is a SHA-256."""

Answers = dict[str, dict[str, Match | None]]
"""By SHA-256, then by pattern: where it was found; None where it was looked for in vain."""


@dataclass(frozen=True, slots=True)
class _Wanted:
    texts: tuple[str, ...]
    layouts: Mapping[str, Layout]
    digests: frozenset[str]
    ids: frozenset[tuple[int, int]]
    ouis: frozenset[int]
    companions: frozenset[str]


@dataclass(frozen=True, slots=True)
class Gathered:
    """The candidates, and how many pieces could not be looked through: gone or changed since they were indexed."""

    candidates: tuple[Candidate, ...]
    passed_over: int


def gather(store: Store, family: Family, pinned: Iterable[str], progress: Progress, host: Host = NO_HOST) -> Gathered:
    """Every piece that could be near a role, and the companions beside them, by SHA-256. Raises Stopped.

    What the saved lists of `host` say of the drivers in them is worked out too.
    """
    wanted = _wanted(family, pinned)
    pieces = list(store.all_pieces())
    answers, passed_over = _search(store, wanted, pieces, progress)
    by_id = store.pieces_naming(wanted.ids)
    near = {
        sha
        for sha, _size, _kind in pieces
        if sha in wanted.digests or sha in by_id or any(_found(wanted, answers.get(sha, {})))
    }
    whole.deepen(store, sorted(near))
    facts = evidence.facts(store, sorted(near))
    written = _written(store, facts)
    facts = {sha: replace(one, beside=written[sha].beside) if sha in written else one for sha, one in facts.items()}
    beside = {one.sha256 for piece in facts.values() for one in piece.beside if one.name.lower() in wanted.companions}
    facts |= evidence.facts(store, sorted(beside - near))
    found = tuple(
        replace(one, written_as=written[one.sha256].name) if one.sha256 in written else one
        for one in driver_trust.asked_of(store, host.destination, _candidates(store, wanted, facts, answers))
    )
    return Gathered(found, passed_over)


@dataclass(frozen=True, slots=True)
class _Written:
    """A piece that lies nowhere but in the catalogue's own store: the name it had, and what it was written out with."""

    name: str
    beside: tuple[Beside, ...]


def _written(store: Store, facts: Mapping[str, PieceFacts]) -> dict[str, _Written]:
    lost = {sha for sha, one in facts.items() if one.places == (Place(str(store.kept_path(sha))),)}
    if not lost:
        return {}
    names: dict[str, str] = {}
    together: dict[str, set[Beside]] = {}
    for _id, _target, _when, body in store.kits_written():
        kit = from_json_kit(json.loads(body))
        called = {one.sha256: Beside(one.name.lower(), one.sha256, one.size, one.kind) for one in kit.pieces}
        for piece in kit.pieces:
            names.setdefault(piece.sha256, piece.name)
        for choice in kit.roles:
            if choice.pieces:
                together.setdefault(choice.pieces[0], set()).update(called[sha] for sha in choice.pieces[1:])
    return {
        sha: _Written(names[sha], tuple(sorted(together.get(sha, ()), key=lambda one: (one.name, one.sha256))))
        for sha in lost
        if sha in names
    }


def _wanted(family: Family, pinned: Iterable[str]) -> _Wanted:
    digests = {digest for release in family.releases for claim in release.claims.values() for digest in claim.sha256}
    shown = [one for mode in family.modes.values() for one in mode.ids]
    listed = [one for role in family.roles.values() if isinstance(role.ids, tuple) for one in role.ids]
    companions = [name for role in family.roles.values() for names in role.companions.values() for name in names]
    return _Wanted(
        texts=patterns.patterns_of(family),
        layouts=family.layouts,
        digests=frozenset(digests) | frozenset(pinned),
        ids=frozenset((one.vendor, one.device) for one in (*shown, *listed)),
        ouis=frozenset(oui for identity in family.identities.values() for oui in identity.ouis),
        companions=frozenset(name.lower() for name in companions),
    )


def _found(wanted: _Wanted, found: Mapping[str, Match | None]) -> Iterable[bool]:
    """Whether anything of the family's was found; a mere version pattern counts too, and `kits.near` sorts it out."""
    keys = (*wanted.texts, *map(_layout_key, wanted.layouts.values()))
    return (found.get(key) is not None for key in keys)


def _search(
    store: Store, wanted: _Wanted, pieces: Collection[tuple[str, int, str]], progress: Progress
) -> tuple[Answers, int]:
    keys = (*wanted.texts, *map(_layout_key, wanted.layouts.values()))
    searchable = [sha for sha, size, kind in pieces if size <= MOST_BYTES and not kind.startswith("archive/")]
    answers = store.pattern_answers(searchable, keys)
    lacking = [sha for sha in searchable if any(key not in answers.get(sha, {}) for key in keys)]
    passed_over = 0
    fresh: list[tuple[str, str, Match | None]] = []
    try:
        for number, (sha, data) in enumerate(fetch.each(store, lacking, MOST_BYTES)):
            progress.report(number, len(lacking), f"looking through {sha[:12]}")
            if data is None:
                passed_over += 1
                continue
            new = _answer(wanted, data, answers.setdefault(sha, {}))
            fresh += [(sha, key, match) for key, match in new.items()]
            if len(fresh) >= BATCH:
                store.put_pattern_answers(fresh)
                fresh.clear()
    finally:
        store.put_pattern_answers(fresh)
    return answers, passed_over


def _answer(wanted: _Wanted, data: bytes, known: dict[str, Match | None]) -> dict[str, Match | None]:
    """What these bytes say of the patterns not `known` yet; adds them to `known`."""
    new = {text: patterns.find(data, text) for text in wanted.texts if text not in known}
    for layout in wanted.layouts.values():
        key = _layout_key(layout)
        if key not in known:
            near = eeprom_image.answer(data, layout).state != "other"
            new[key] = Match(layout.magic_at, len(layout.magic)) if near else None
    known.update(new)
    return new


def _layout_key(layout: Layout) -> str:
    """Names what decides whether a piece is near a layout: its size, its magic, and where its fields lie."""
    where = ",".join(f"{one.at}+{one.length}" for one in layout.fields)
    return f"\0layout {layout.size} {layout.magic_at} {layout.magic.hex()} {where}"


def _candidates(
    store: Store, wanted: _Wanted, facts: Mapping[str, PieceFacts], answers: Answers
) -> Iterable[Candidate]:
    trimmed = store.pattern_answers(sorted(facts), (TRIMMED,))
    asked = [
        sha
        for sha, one in facts.items()
        if TRIMMED not in trimmed.get(sha, {}) or _laid_out(wanted, answers.get(sha, {}), one.info.size)
    ]
    fresh: list[tuple[str, str, Match | None]] = []
    read: dict[str, Candidate] = {}
    for sha, data in fetch.each(store, asked, MOST_BYTES):
        if data is not None:
            if TRIMMED not in trimmed.get(sha, {}):
                trimmed.setdefault(sha, {})[TRIMMED] = match = _trimmed(data)
                fresh.append((sha, TRIMMED, match))
            read[sha] = _candidate(wanted, sha, facts[sha], answers, trimmed, data)
    store.put_pattern_answers(fresh)
    for sha in sorted(facts):
        yield read.get(sha) or _candidate(wanted, sha, facts[sha], answers, trimmed, None)


def _laid_out(wanted: _Wanted, found: Mapping[str, Match | None], size: int) -> bool:
    """Whether a layout of the family knows the piece, or has its very size: then its fields and addresses are asked."""
    layouts = wanted.layouts.values()
    return any(found.get(_layout_key(one)) is not None or one.size == size for one in layouts)


def _candidate(
    wanted: _Wanted, sha: str, facts: PieceFacts, answers: Answers, trimmed: Answers, data: bytes | None
) -> Candidate:
    found = answers.get(sha, {})
    near_layout = data is not None and _laid_out(wanted, found, facts.info.size)
    layouts = (
        {name: eeprom_image.answer(data, layout) for name, layout in wanted.layouts.items()}
        if near_layout and data is not None
        else {}
    )
    match = trimmed.get(sha, {}).get(TRIMMED)
    return Candidate(
        sha256=sha,
        size=facts.info.size,
        kind=facts.info.kind,
        reading=facts.reading,
        places=facts.places,
        vouches=facts.vouches,
        contradictions=facts.contradictions,
        matches={text: one for text in wanted.texts if (one := found.get(text)) is not None},
        searched=all(text in found for text in wanted.texts),
        layouts=layouts,
        fill=fill_byte(BytesView(data)) if near_layout and data is not None else None,
        beside=facts.beside,
        member_faults=facts.member_faults,
        beside_faults=facts.beside_faults,
        within=facts.within,
        signatures=facts.signatures,
        trimmed=match.value if match else None,
        addresses=addresses.scan(data, wanted.ouis) if layouts and data is not None else (),
    )


def _trimmed(data: bytes) -> Match | None:
    """The SHA-256 of the bytes without their last run of one fill byte (00h or FFh), as a match's value."""
    last = data[-1:]
    core = data.rstrip(last) if last in (b"\x00", b"\xff") else data
    return Match(0, len(core), hashlib.sha256(core).hexdigest())
