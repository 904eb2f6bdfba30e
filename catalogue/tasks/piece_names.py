"""A name for each of some pieces, for lines that a person reads."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePath

from catalogue.shapes.kit import Kit
from catalogue.store import Store
from catalogue.tasks.context import Context


def run(context: Context, sha256s: Iterable[str]) -> dict[str, str]:
    """The last part of the first place of each piece, by SHA-256; those that lie nowhere are absent."""
    with Store.open(context.catalogue) as store:
        infos = store.piece_infos(sorted(set(sha256s)))
    return {
        sha: PurePath(info.places[0].inside[-1] if info.places[0].inside else info.places[0].path).name
        for sha, info in infos.items()
        if info.places
    }


def of_kit(context: Context, kit: Kit) -> dict[str, str]:
    """Names for every piece a kit speaks of."""
    chosen = [sha for choice in kit.roles for sha in choice.pieces]
    others = [other.piece for choice in kit.roles for other in choice.others]
    return run(context, [*chosen, *others, *(one.piece for one in kit.findings if one.piece)])
