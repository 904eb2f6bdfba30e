"""Pieces that a utility needs beside it, found by name in its own folder or archive.

Decisions on sentences of the contract:
- Two contents of one name (the utility lies in two places) are chosen between by what is known of them: what a list or
  a damaged archive entry speaks against goes first, then named ones win. What then still differs is `ambiguous`.
- What is known of a companion is known through `Question.candidates`; where it is not among them, nothing speaks
  against it and nothing for it.
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.vouching import standing
from catalogue.shapes.piece import Beside


@dataclass(frozen=True, slots=True)
class Companion:
    """One name the role's `with` asks for, as the family spells it, and the contents of that name beside the utility.

    `found` holds one (the chosen), several (they tie) or none (missing).
    """

    name: str
    found: tuple[Beside, ...]

    @property
    def chosen(self) -> Beside | None:
        """The one content, where there is one."""
        return self.found[0] if len(self.found) == 1 else None


def companions(asked: Asked, wanted: Wanted, candidate: Candidate) -> tuple[Companion, ...]:
    """What lies beside `candidate` of the names its role asks for."""
    found: list[Companion] = []
    for name in wanted.companions:
        same = {one.sha256: one for one in candidate.beside if one.name.casefold() == name.casefold()}
        best = _best(asked, wanted, [same[sha256] for sha256 in sorted(same)])
        found.append(Companion(name, tuple(best)))
    return tuple(found)


def _best(asked: Asked, wanted: Wanted, found: list[Beside]) -> list[Beside]:
    if len(found) < 2:
        return found
    sound = [one for one in found if not _spoken_against(asked.candidates.get(one.sha256))]
    found = sound or found
    named = [one for one in found if _named(asked, wanted, one)]
    found = named or found
    picked = [
        one for one in found if any(word.code == "ambiguous" and word.sha256 == one.sha256 for word in asked.words)
    ]
    return picked if len(picked) == 1 else found


def _spoken_against(facts: Candidate | None) -> bool:
    return facts is not None and bool(facts.contradictions or facts.member_faults)


def _named(asked: Asked, wanted: Wanted, one: Beside) -> bool:
    facts = asked.candidates.get(one.sha256)
    return one.sha256 in asked.digests or (facts is not None and standing(asked, wanted.role.name, facts).named)
