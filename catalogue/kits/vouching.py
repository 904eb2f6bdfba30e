"""The ladder: how well a piece is vouched for, and what that rests on.

Decisions on sentences of the contract:
- *signed* counts for a key that the family pins and has not revoked, named by its name or its certificate's SHA-256.
  It vouches for a whole program that it signs (in an option ROM it covers the driver alone): every signed digest by it
  holds, none is MD5 or SHA-1, the signature was made while the certificate held, and nothing lies in the certificate
  table that no signature covers.
- *named* is also what a recorded key signed: a key's source that a person recorded is a recorded source.
- *named* is a digest of the family's own (any release's entry, whatever its role: fit is another question), or a list
  whose source a person recorded; an archive that the family names vouches for its members. A CRC never names.
- *ran* is for this role, mode and board only, so it is taken from the after-checks' answer for the role, never from a
  list. The board is what the saved texts given to the kit show: a check of a card that showed a board says nothing for
  a kit that is told of none, or of another.
- What is *named by the family's own digest* is the piece itself, not the archive it came in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

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

    `said` is all that speaks for it, best first. `sure`: signed, or named by the family's own digest, so that no byte
    of it can have changed.
    """

    rung: str
    rests_on: tuple[Vouch, ...] = ()
    sure: bool = False
    said: tuple[Vouch, ...] = ()

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
        more.append(Vouch("named", f"family {asked.family.id}", _own_line(asked, candidate), "sha256"))
    if asked.ran and (ran := asked.ran.get(role, {}).get(candidate.sha256)):
        more += ran
    if asked.family.keys:
        more += (one for one in _signatures(candidate) if _rung(asked, one) == "signed")
    said: list[Vouch] = []
    for vouch in (*candidate.vouches, *more) if more else candidate.vouches:
        rung = vouch.rung if vouch in more else _rung(asked, vouch)
        if rung != "none":
            said.append(vouch if vouch.rung == rung else replace(vouch, rung=rung))
        if RANK[rung] < RANK[best]:
            best, rests_on = rung, [vouch]
        elif rung == best:
            rests_on.append(vouch)
    if best == "none":
        return _NOTHING
    said.sort(key=lambda one: RANK[one.rung])
    return Standing(best, tuple(rests_on), sure=own or best == "signed", said=tuple(said))


def _own_line(asked: Asked, candidate: Candidate) -> str:
    """Where the family gives the digest of the piece, or of an archive that it lies in."""
    mine = {candidate.sha256, *candidate.within}
    for release in asked.family.releases:
        for role, claim in release.claims.items():
            if any(one.lower() in mine for one in claim.sha256):
                return asked.release_line(release.name, role)
    return asked.family.file


_NOTHING = Standing("none")
_SIGNATURE = "signature/authenticode"
_UNCOVERED = frozenset({"data-in-signature", "signed-out-of-time"})


def _signatures(candidate: Candidate) -> Iterator[Vouch]:
    """The keys that signed a whole program as it stands."""
    if candidate.reading.format != "pe" or candidate.reading.value("digest_matches") is not True:
        return
    for part in candidate.reading.parts:
        sound = part.value("signature_valid") is True and part.value("digest_matches") is True and not part.faults
        weak = part.value("digest_algorithm") in WEAK or _UNCOVERED.intersection(one.code for one in part.notes)
        if part.kind == _SIGNATURE and sound and not weak:
            place = str(candidate.places[0]) if candidate.places else candidate.sha256
            algorithm = str(part.value("digest_algorithm"))
            yield Vouch("signed", str(part.value("certificate_sha256")), place, algorithm)


def _rung(asked: Asked, vouch: Vouch) -> str:
    """The rung that `vouch` is worth to this family."""
    if vouch.rung == "signed":
        keys = (one for one in asked.family.keys if one.revoked is None)
        return "signed" if any(vouch.by in (one.name, one.certificate_sha256) for one in keys) else "none"
    if vouch.rung == "named" and vouch.algorithm.lower() == "crc32":
        return "neighbour"
    return vouch.rung if vouch.rung in ("named", "agreed", "neighbour") else "none"
