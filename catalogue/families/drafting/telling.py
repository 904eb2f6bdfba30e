"""Texts that could tell the modes of a role's pieces apart."""

from __future__ import annotations

import re

from catalogue.families.drafting.given import Piece

LOOKED = 256 << 10
MOST_PIECES = 8
LEAST_ALIKE = 4
"""Characters that the texts of two modes share at their beginning, to be offered: by chance few do."""
MOST_TEXTS = 400
_TEXT = re.compile(rb"[A-Za-z0-9][ -~]{3,39}(?=\0|\r|\n|\xff)")


def telling_texts(pieces: tuple[Piece, ...]) -> list[str]:
    """Texts that some of the pieces hold and others do not, without those with versions; with their places.

    Where there is but one piece, its first texts. Those that are most alike between two pieces come first.
    """
    held = [(one, _texts(one)) for one in pieces[:MOST_PIECES]]
    if not held:
        return []
    everywhere = set.intersection(*(set(texts) for _one, texts in held)) if len(held) > 1 else set()
    some = {text for _one, texts in held for text in texts} - everywhere
    row = sorted(some)
    alike = {text: max((_alike(text, other) for other in (row[max(0, n - 1)], row[min(n + 1, len(row) - 1)])
                        if other != text), default=0) for n, text in enumerate(row)}  # fmt: skip
    least = LEAST_ALIKE if len(held) > 1 else 0
    out = []
    for text in sorted((one for one in row if alike[one] >= least), key=lambda one: (-alike[one], one)):
        one, at = next((one, texts[text]) for one, texts in held if text in texts)
        out.append(f'"{text}" ({one.at(at)})')
    return out


def _texts(piece: Piece) -> dict[str, int]:
    out: dict[str, int] = {}
    for found in _TEXT.finditer(piece.data[:LOOKED]):
        text = found[0].decode("ascii")
        if re.search(r"[A-Za-z]{3}", text) and not re.search(r"[0-9]\.[0-9]", text):
            out.setdefault(text, found.start())
        if len(out) >= MOST_TEXTS:
            break
    return out


def _alike(one: str, other: str) -> int:
    """How many characters two texts share from the beginning."""
    return next((n for n, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
