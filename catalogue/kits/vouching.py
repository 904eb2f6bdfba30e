"""The ladder: how well a piece is vouched for, and what that rests on.

Decisions on sentences of the contract:
- *signed* counts for a key that the family pins and has not revoked, named by its name or its certificate's SHA-256.
- *named* is a digest of the family's own (any release's entry, whatever its role: fit is another question), or a list
  whose source a person recorded; an archive that the family names vouches for its members. A CRC never names.
- *ran* is for this role only, so it is taken from the card book's answer for the role, never from a list.
- What is *named by the family's own digest* is the piece itself, not the archive it came in.
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.kits.asked import Asked
from catalogue.kits.candidate import Candidate
from catalogue.shapes.piece import Vouch

RUNGS = ("signed", "named", "ran", "agreed", "neighbour", "none")
"""Best first."""
RANK = {rung: place for place, rung in enumerate(RUNGS)}
WEAK = frozenset({"md5", "sha1"})
"""Digests for which two contents of one value can be made (FIPS 180-4 no longer lists them as safe against it)."""
ENOUGH_TO_WRITE = RANK["ran"]


@dataclass(frozen=True, slots=True)
class Standing:
    """The best rung of a piece, what it rests on, and whether the bytes cannot be damaged.

    `sure`: signed, or named by the family's own digest, so that no byte of it can have changed.
    """

    rung: str
    rests_on: tuple[Vouch, ...] = ()
    sure: bool = False

    @property
    def rank(self) -> int:
        """0 for the best rung."""
        return RANK[self.rung]

    @property
    def named(self) -> bool:
        """Whether it is named or better."""
        return self.rank <= RANK["named"]

    @property
    def weak(self) -> bool:
        """Whether it rests on MD5 or SHA-1 alone."""
        return bool(self.rests_on) and all(one.algorithm.lower().replace("-", "") in WEAK for one in self.rests_on)


def standing(asked: Asked, role: str, candidate: Candidate) -> Standing:
    """How well `candidate` is vouched for in `role`."""
    own = candidate.sha256 in asked.digests
    best, rests_on = "none", []
    more: list[Vouch] = []
    if own or (candidate.within and any(one in asked.digests for one in candidate.within)):
        more.append(Vouch("named", asked.family.id, asked.family.file, "sha256"))
    if asked.ran and candidate.sha256 in asked.ran.get(role, frozenset()):
        more.append(Vouch("ran", "an after-check of a card"))
    for vouch in (*candidate.vouches, *more) if more else candidate.vouches:
        rung = vouch.rung if vouch in more else _rung(asked, vouch)
        if RANK[rung] < RANK[best]:
            best, rests_on = rung, [vouch]
        elif rung == best:
            rests_on.append(vouch)
    if best == "none":
        return _NOTHING
    return Standing(best, tuple(rests_on), sure=own or best == "signed")


_NOTHING = Standing("none")


def _rung(asked: Asked, vouch: Vouch) -> str:
    """The rung that `vouch` is worth to this family."""
    if vouch.rung == "signed":
        keys = (one for one in asked.family.keys if one.revoked is None)
        return "signed" if any(vouch.by in (one.name, one.certificate_sha256) for one in keys) else "none"
    if vouch.rung == "named" and vouch.algorithm.lower() == "crc32":
        return "neighbour"
    return vouch.rung if vouch.rung in ("named", "agreed", "neighbour") else "none"
