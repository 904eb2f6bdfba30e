"""Counter-examples: pieces that a family must refuse, taken for a role by hand, and what stops them.

Only what the family itself teaches counts: a stop that speaks of fit, not one that merely asks who vouches for the
piece. What a hash list names for both modes is told apart by IDs, texts or a layout, or not at all.
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
FIT_ASKED = "fit-unproved"
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
    out = []
    for one in candidates:
        if one.kind.startswith(OPTION_ROM):
            named = frozenset[tuple[int, int]]().union(*(i.cards for i in asked_images(wanted, images_of(one.reading))))
            if named & other and not named & own:
                out.append(one)
    return tuple(sorted(out, key=lambda one: one.sha256))


def _ids(asked: Asked, mode: str) -> frozenset[tuple[int, int]]:
    found = asked.family.modes.get(mode)
    return frozenset((one.vendor, one.device) for one in found.ids) if found is not None else frozenset()


def stopped_by(question: Question, kit: Kit, role: str, counter: Candidate) -> tuple[str, ...]:
    """The codes by which the family stops `counter` where a person takes it for `role`; none: it would pass.

    `kit` is the kit that `question` gave; its other pieces stay as they are.
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
        and (not one.clearable or one.code == FIT_ASKED)
    )
    return tuple(dict.fromkeys(codes))
