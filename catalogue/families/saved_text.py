"""A saved listing divided into adapters, and what it tells of each, as the family file says.

Blocks begin at lines that hold the listing's `block` pattern; with `columns`, a line that holds the names of all the
family's columns heads the rows below it, up to a blank line. Without `[listing]` the whole text is one adapter. IDs are
read as `families.shown` reads them; where none are shown, a mode's `has` strings tell the mode.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from catalogue.families import patterns, shown
from catalogue.families.model import ANY_MODE, Family, IdPattern
from catalogue.shapes.card import CardFacts, Said

MAX_TEXT = 1 << 20
"""Characters of a saved text that are looked at."""
MAX_ADAPTERS = 256
_GAP = re.compile(r"\t+| {2,}|\s*\|\s*")


@dataclass(frozen=True, slots=True)
class _Block:
    """Some lines of the text; `first` is the number of the first one. `values` are a row's values by column."""

    lines: tuple[str, ...]
    first: int
    values: tuple[tuple[str, str], ...] = ()


def adapters(text: str, family: Family, file: str) -> tuple[CardFacts, ...]:
    """Every adapter that the saved text shows, in its order."""
    lines = text[:MAX_TEXT].splitlines()
    return tuple(_facts(block, family, file) for block in list(_blocks(lines, family))[:MAX_ADAPTERS])


def _blocks(lines: list[str], family: Family) -> Iterator[_Block]:
    listing = family.listing
    if listing is not None and listing.columns:
        yield from _rows(lines, [one.column for one in family.identities.values() if one.column])
        return
    begins = [0]
    if listing is not None and listing.block:
        begins = [at for at, line in enumerate(lines) if _find(line, listing.block) is not None]
    for at, end in pairwise((*begins, len(lines))):
        if any(line.strip() for line in lines[at:end]):
            yield _Block(tuple(lines[at:end]), at + 1)


def _rows(lines: list[str], names: list[str]) -> Iterator[_Block]:
    """The rows under the first line that names every column, by the places of the names in it."""
    for at, line in enumerate(lines):
        if not names or not all(name in line for name in names):
            continue
        heads = _cells(line)
        for number, row in enumerate(lines[at + 1 :], at + 2):
            if not row.strip():
                return
            if set(row.strip()) <= set("-=+| "):
                continue
            yield _Block((row,), number, tuple(_values(heads, line, row)))
        return


def _cells(line: str) -> list[tuple[str, int]]:
    """The texts of a line that gaps part, each with the place it begins at."""
    found, at = [], len(line) - len(line.lstrip())
    for gap in [*_GAP.finditer(line, at), None]:
        end = len(line) if gap is None else gap.start()
        if line[at:end].strip():
            found.append((line[at:end].strip(), at))
        at = len(line) if gap is None else gap.end()
    return found


def _values(heads: list[tuple[str, int]], head: str, row: str) -> Iterator[tuple[str, str]]:
    """A row's value under each head: the cell of the same number where there are as many, else by its place."""
    cells = _cells(row)
    if len(cells) == len(heads):
        yield from ((name, cell) for (name, _at), (cell, _where) in zip(heads, cells, strict=True))
        return
    stops = [at for _name, at in heads[1:]] + [max(len(head), len(row))]
    for (name, at), stop in zip(heads, stops, strict=True):
        yield name, row[at:stop].strip(" \t|")


def _find(line: str, pattern: str) -> str | None:
    found = patterns.find(line.encode("utf-8", "surrogateescape"), pattern)
    return None if found is None else found.value


def _facts(block: _Block, family: Family, file: str) -> CardFacts:
    def said(pattern: str | None) -> Said | None:
        if pattern is None:
            return None
        for number, line in enumerate(block.lines, block.first):
            value = _find(line, pattern)
            if value:
                return Said(value, file, number)
        return None

    listing, revision = family.listing, family.card.revision
    columns = dict(block.values)
    identities: dict[str, Said] = {}
    for name, one in family.identities.items():
        cell = columns.get(one.column or "")
        value = Said(cell, file, block.first) if cell else said(one.find)
        if value is not None:
            identities[name] = value
    versions = {name: found for name, role in family.roles.items() if (found := said(role.version)) is not None}
    pairs = tuple(_shown(block, file))
    mode, state = _mode(family, block, pairs)
    return CardFacts(
        file=file,
        line=block.first,
        slot=said(listing.block) if listing is not None else None,
        mode=mode,
        state=state,
        shown=tuple(one for one, _card in pairs),
        subsystem=_subsystem(pairs),
        revision=said(revision.find) if revision is not None else None,
        pci_revision=_pci_revision(family, pairs),
        versions=versions,
        identities=identities,
    )


def _shown(block: _Block, file: str) -> Iterator[tuple[Said, shown.ShownCard]]:
    for number, line in enumerate(block.lines, block.first):
        for card in shown.parse(line):
            yield Said(f"{card.vendor:04X}:{card.device:04X}", file, number), card


def _pci_revision(family: Family, pairs: tuple[tuple[Said, shown.ShownCard], ...]) -> Said | None:
    """The one PCI revision of the cards of this family that the block shows."""
    own = [id_ for mode in family.modes.values() for id_ in mode.ids]
    own += [id_ for state in family.states.values() for id_ in state.ids]
    found = [
        Said(f"{card.revision:02X}", said.file, said.line)
        for said, card in pairs
        if card.revision is not None and any(_answers(id_, card) for id_ in own)
    ]
    return found[0] if len({one.text for one in found}) == 1 else None


def _subsystem(pairs: tuple[tuple[Said, shown.ShownCard], ...]) -> Said | None:
    """The one subsystem that the block shows."""
    found = {
        f"{card.subvendor:04x}:{card.subdevice:04x}": said
        for said, card in pairs
        if card.subvendor is not None and card.subdevice is not None
    }
    if len(found) != 1:
        return None
    ((text, said),) = found.items()
    return Said(text, said.file, said.line)


def _mode(
    family: Family, block: _Block, pairs: tuple[tuple[Said, shown.ShownCard], ...]
) -> tuple[str | None, str | None]:
    """The one mode, or the one half-way state, that the block shows."""
    cards = [card for _said, card in pairs]
    modes = {one.name for one in family.modes.values() if any(_answers(id_, card) for id_ in one.ids for card in cards)}
    states = {
        one.name for one in family.states.values() if any(_answers(id_, card) for id_ in one.ids for card in cards)
    }
    if not modes and not states:
        text = "\n".join(block.lines).encode("utf-8", "surrogateescape")
        modes = {
            mode
            for role in family.roles.values()
            for mode, string in role.has.items()
            if mode != ANY_MODE and list(role.has.values()).count(string) == 1 and patterns.find_text(text, string)
        }
    if len(modes) + len(states) != 1:
        return None, None
    return next(iter(modes), None), next(iter(states), None)


def _answers(pattern: IdPattern, card: shown.ShownCard) -> bool:
    if (pattern.vendor, pattern.device) != (card.vendor, card.device):
        return False
    sub = None if card.subvendor is None else (card.subvendor, card.subdevice)
    return pattern.subvendor is None or sub is None or sub == (pattern.subvendor, pattern.subdevice)
