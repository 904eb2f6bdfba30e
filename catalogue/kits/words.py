"""What a person's words clear.

Decisions on sentences of the contract:
- "On one written piece `fit-unproved` and `unvouched` can never both be cleared": where both fire, the word that stands
  first among the words clears its finding and the other clears nothing. So each word changes only its own finding, and
  none takes back what an earlier one did.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from catalogue.shapes.finding import ClearedBy, Finding, Level
from catalogue.shapes.kit import Word

NEVER_BOTH = ("fit-unproved", "unvouched")
AMBIGUOUS = "ambiguous"


@dataclass(frozen=True, slots=True)
class Words:
    """The words given, by code and SHA-256, with their places in order; of two for the same the first counts."""

    given: Mapping[tuple[str, str], tuple[int, Word]]

    def get(self, code: str, sha256: str) -> Word | None:
        """The word for this code and content, if there is one."""
        found = self.given.get((code, sha256))
        return found[1] if found is not None else None

    def place(self, code: str, sha256: str) -> int | None:
        """Where in order that word stands."""
        found = self.given.get((code, sha256))
        return found[0] if found is not None else None

    def apply(self, findings: Iterable[Finding], written: bool) -> tuple[Finding, ...]:
        """`findings` of one role, those that a word clears turned into cautions. `written`: the role's pieces are."""
        found = tuple(findings)
        if not self.given:
            return found
        fired = {(one.code, one.piece) for one in found}
        return tuple(self._applied(one, written, fired) for one in found)

    def _applied(self, finding: Finding, written: bool, fired: set[tuple[str, str | None]]) -> Finding:
        if not finding.clearable or finding.level is not Level.STOP or finding.piece is None:
            return finding
        word = self.get(finding.code, finding.piece)
        if word is None or (written and self._barred(finding.code, finding.piece, fired)):
            return finding
        return replace(finding, level=Level.CAUTION, cleared_by=ClearedBy(word.by, word.reason))

    def _barred(self, code: str, piece: str, fired: set[tuple[str, str | None]]) -> bool:
        """Whether the other of the two that are never both cleared has fired too, and has the earlier word."""
        if code not in NEVER_BOTH:
            return False
        other = NEVER_BOTH[1 - NEVER_BOTH.index(code)]
        mine, theirs = self.place(code, piece), self.place(other, piece)
        return (other, piece) in fired and mine is not None and theirs is not None and theirs < mine


def words_of(given: Iterable[Word]) -> Words:
    """`given` in order, ready to be looked up."""
    kept: dict[tuple[str, str], tuple[int, Word]] = {}
    for place, word in enumerate(given):
        kept.setdefault((word.code, word.sha256), (place, word))
    return Words(kept)
