"""Gather what a kit is judged from: every piece that could be near a role of the family, as values.

What the family's patterns and magics find in a piece is kept by SHA-256 and pattern, so that a piece's bytes are
looked through once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from catalogue.errors import NotWorkable
from catalogue.families import patterns
from catalogue.families.model import Family
from catalogue.formats import eeprom_image
from catalogue.intake import fetch
from catalogue.kits.candidate import Candidate
from catalogue.shapes.layout import Layout
from catalogue.shapes.progress import Progress
from catalogue.shapes.reading import LayoutAnswer, Match
from catalogue.store import Store, evidence

MOST_BYTES = 64 << 20
"""Pieces longer than this are not looked through (family-file contract)."""
BATCH = 500


@dataclass(frozen=True, slots=True)
class _Wanted:
    texts: tuple[str, ...]
    layouts: Mapping[str, Layout]
    digests: frozenset[str]
    ids: frozenset[tuple[int, int]]
    sizes: frozenset[int]


def gather(store: Store, family: Family, pinned: Iterable[str], progress: Progress) -> tuple[Candidate, ...]:
    """Every piece that could be near a role, by SHA-256. Reports progress; raises Stopped."""
    wanted = _wanted(family, pinned)
    pieces = list(store.all_pieces())
    answers = _search(store, wanted, pieces, progress)
    return tuple(_candidates(store, wanted, pieces, answers))


def _wanted(family: Family, pinned: Iterable[str]) -> _Wanted:
    digests = {
        digest for release in family.releases for claim in release.claims.values() for digest in claim.sha256
    }
    shown = [*family.modes.values(), *family.states.values()]
    listed = [one for role in family.roles.values() if isinstance(role.ids, tuple) for one in role.ids]
    return _Wanted(
        texts=patterns.patterns_of(family),
        layouts=family.layouts,
        digests=frozenset(digests) | frozenset(pinned),
        ids=frozenset((one.vendor, one.device) for one in [*(i for mode in shown for i in mode.ids), *listed]),
        sizes=frozenset(layout.size for layout in family.layouts.values()),
    )


def _search(
    store: Store, wanted: _Wanted, pieces: list[tuple[str, int, str]], progress: Progress
) -> dict[str, dict[str, Match | None]]:
    """By SHA-256, then by pattern: where it was found; None where it was looked for in vain."""
    keys = (*wanted.texts, *(_magic_key(layout) for layout in wanted.layouts.values()))
    searchable = [sha for sha, size, kind in pieces if size <= MOST_BYTES and not kind.startswith("archive/")]
    answers = store.pattern_answers(searchable, keys)
    lacking = [sha for sha in searchable if len(answers.get(sha, {})) < len(keys)]
    fresh: list[tuple[str, str, Match | None]] = []
    for number, sha in enumerate(lacking):
        progress.report(number, len(lacking), f"looking through {sha[:12]}")
        try:
            data = fetch.piece_bytes(store, sha, most=MOST_BYTES)
        except NotWorkable:
            continue
        found = answers.setdefault(sha, {})
        for text in wanted.texts:
            if text not in found:
                found[text] = patterns.find(data, text)
                fresh.append((sha, text, found[text]))
        for layout in wanted.layouts.values():
            key = _magic_key(layout)
            if key not in found:
                found[key] = Match(layout.magic_at, len(layout.magic)) if _may_fit(data, layout) else None
                fresh.append((sha, key, found[key]))
        if len(fresh) >= BATCH:
            store.put_pattern_answers(fresh)
            fresh.clear()
    store.put_pattern_answers(fresh)
    return answers


def _magic_key(layout: Layout) -> str:
    return f"\0layout {layout.size} {layout.magic_at} {layout.magic.hex()}"


def _may_fit(data: bytes, layout: Layout) -> bool:
    """Whether asking the layout is worth it: anything but "other" could come out."""
    return eeprom_image.answer(data, layout).state != "other"


def _candidates(
    store: Store,
    wanted: _Wanted,
    pieces: list[tuple[str, int, str]],
    answers: Mapping[str, Mapping[str, Match | None]],
) -> Iterable[Candidate]:
    by_id = store.pieces_naming(wanted.ids)
    magic = {name: _magic_key(layout) for name, layout in wanted.layouts.items()}
    near = []
    for sha, _size, _kind in pieces:
        found = answers.get(sha, {})
        if sha in wanted.digests or sha in by_id or any(match is not None for match in found.values()):
            near.append(sha)
    sizes = {sha: size for sha, size, _kind in pieces}
    for sha, facts in sorted(evidence.facts(store, near).items()):
        found = answers.get(sha, {})
        layouts: dict[str, LayoutAnswer] = {}
        fill = None
        if any(found.get(key) is not None for key in magic.values()):
            data = fetch.piece_bytes(store, sha, most=MOST_BYTES)
            layouts = {name: eeprom_image.answer(data, layout) for name, layout in wanted.layouts.items()}
            fill = eeprom_image.fill_of(data)
        yield Candidate(
            sha256=sha,
            size=sizes[sha],
            kind=facts.info.kind,
            reading=facts.reading,
            places=facts.places,
            vouches=facts.vouches,
            contradictions=facts.contradictions,
            matches={text: match for text in wanted.texts if (match := found.get(text)) is not None},
            searched=sha in answers,
            layouts=layouts,
            fill=fill,
            beside=facts.beside,
            member_faults=facts.member_faults,
        )
