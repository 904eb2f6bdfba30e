"""Counter-examples: pieces that a family must refuse, taken for a role by hand, and what stops them.

Against the other mode's ROM only what the family itself teaches counts: a stop that speaks of fit, not one that merely
asks who vouches for the piece. What a hash list names for both modes is told apart by IDs, texts or a layout, or not at
all. Any other piece just has to be stopped; one that names the role's own IDs may well be right, and shows nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.criteria import asked_images
from catalogue.kits.images import OPTION_ROM, images_of
from catalogue.kits.judge import judge
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Kit, Pin

WHY = "a counter-example"
TELLING = frozenset({"other-mode", "other-family", "fit-unproved", "wrong-size", "package-no-match"})
"""Codes by which a family tells a piece from the right one; that it is damaged, say, is no such thing."""
PINNED = "pin-broken"


def rom_roles(asked: Asked, kit: Kit) -> tuple[Wanted, ...]:
    """The roles that take an option ROM: by their kind, or, without one, by the piece that was chosen."""
    chosen = {one.role: one.pieces[0] for one in kit.roles if one.pieces}
    return tuple(
        wanted
        for name, wanted in asked.wanted.items()
        if (wanted.kind or _kind(asked, chosen.get(name))).startswith(OPTION_ROM)
    )


def _kind(asked: Asked, sha256: str | None) -> str:
    found = asked.candidates.get(sha256 or "")
    return found.kind if found is not None else ""


def other_modes_roms(asked: Asked, wanted: Wanted, candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Those of `candidates` whose images for the role name another mode of the family and not the role's own."""
    own = wanted.cards or _ids(asked, asked.route.target_mode)
    other = frozenset().union(*(_ids(asked, name) for name in asked.family.modes)) - own
    found = (one for one in candidates if (named := _named(wanted, one)) & other and not named & own)
    return tuple(sorted(found, key=lambda one: one.sha256))


def shows_something(asked: Asked, wanted: Wanted, candidate: Candidate) -> bool:
    """Whether a piece of the role's kind is one that must be stopped: a ROM with an image for it, none of its IDs."""
    if not candidate.kind.startswith(OPTION_ROM):
        return True
    own = wanted.cards or _ids(asked, asked.route.target_mode)
    return bool(asked_images(wanted, images_of(candidate.reading))) and not _named(wanted, candidate) & own


def _named(wanted: Wanted, candidate: Candidate) -> frozenset[tuple[int, int]]:
    """The IDs of a ROM's images for the role; none of what is no ROM."""
    if not candidate.kind.startswith(OPTION_ROM):
        return frozenset()
    images = asked_images(wanted, images_of(candidate.reading))
    return frozenset[tuple[int, int]]().union(*(one.cards for one in images))


def _ids(asked: Asked, mode: str) -> frozenset[tuple[int, int]]:
    found = asked.family.modes.get(mode)
    return frozenset((one.vendor, one.device) for one in found.ids) if found is not None else frozenset()


def stopped_by(question: Question, kit: Kit, role: str, counter: Candidate, *, by_fit: bool) -> tuple[str, ...]:
    """The codes that stop `counter` where a person takes it for `role`; none: it would pass.

    With `by_fit` only those count by which the family tells it from the right piece. `kit` is the kit that `question`
    gave; its other pieces stay as they are.
    """
    held = {piece for one in kit.roles for piece in one.pieces}
    rest = tuple(one for one in question.candidates if one.sha256 in held and one.sha256 != counter.sha256)
    pins = (Pin(role, counter.sha256, WHY),)
    found = judge(replace(question, candidates=(*rest, counter), pins=pins)).findings
    codes = (
        one.code
        for one in found
        if one.level is Level.STOP
        and one.piece == counter.sha256
        and one.code != PINNED
        and (not by_fit or one.code in TELLING)
    )
    return tuple(dict.fromkeys(codes))
