"""The smallest sets of changes after which the judge itself says *ready*.

How it is searched: what stops the kit names changes (`moves`); each is made and judged; one that takes something away
and brings no more is kept, and what then still stops the kit is asked in its turn. So only a role that is stopped is
changed, and sets grow by one change at a time, the small ones first. Bounds end the search, and are told.

Nothing is proposed that was not judged ready with the changes made, and of each proposal every part was judged too:
none is enough. (Of more than MOST_PARTS changes each one is left out in turn, and that is told: `least`.) The order is
the safest first: proposals without a person's word, then those without a pin, then by size, then by kind.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import combinations

from catalogue.kits.asked import Asked, Wanted, ask
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.changes import changed
from catalogue.kits.images import Image, images_of
from catalogue.kits.judge import judge
from catalogue.kits.moves import moves, routes, stops_of
from catalogue.kits.near import is_near
from catalogue.shapes.finding import Finding
from catalogue.shapes.kit import Kit
from catalogue.shapes.mending import Change, ChangeKind, Mending, Proposal

MOST_JUDGED = 400
"""Judgements of one search, those that prove a proposal least not counted."""
MOST_CHANGES = 10
MOST_PROPOSALS = 8
MOST_PARTS = 6
"""Up to so many changes every part of a proposal is judged: 62 parts of six."""

Made = frozenset[Change]
Stop = tuple[str, str | None, str | None]
"""Code, role and piece of a finding that stops."""


def always() -> bool:
    """Never told to end."""
    return True


def mend(question: Question, go_on: Callable[[], bool] = always, most: int = MOST_JUDGED) -> Mending:
    """What would make the kit for `question` ready; nothing where it is ready already.

    `go_on` is asked before each judgement: False ends the search, with what was found.
    """
    search = _Search(question, go_on, most)
    if search.ready(frozenset()):
        return Mending(judged=1)
    search.dive()
    search.widen()
    found = search.proposals()
    stuck = () if found else tuple(search.stuck())
    return Mending(tuple(found), search.whole, len(search.known), stuck)


class _Search:
    """One search: what was judged so far, what was found, and whether a bound ended it."""

    def __init__(self, question: Question, go_on: Callable[[], bool], most: int) -> None:
        self.question = near_only(question)
        self.known: dict[Made, Kit] = {}
        self.found: list[Made] = []
        self.whole = True
        self._go_on = go_on
        self._most = most

    def kit(self, made: Made) -> Kit:
        """The kit with these changes."""
        if made not in self.known:
            self.known[made] = judge(changed(self.question, made))
        return self.known[made]

    def ready(self, made: Made) -> bool:
        return self.kit(made).verdict == "ready"

    def spent(self) -> bool:
        """Whether a bound is reached."""
        if len(self.known) < self._most and self._go_on():
            return False
        self.whole = False
        return True

    def children(self, made: Made, role: str | None) -> Iterator[Made]:
        """`made` and one change more that takes a stop of `role` away, and brings no more than there were.

        Of the pieces that could be got for a role the one that leaves least to do is taken: what is to be fetched again
        before what is missing, the newest release first.
        """
        question = changed(self.question, made)
        kit = self.kit(made)
        before = {_named(one) for one in stops_of(kit)}
        mine = {_named(one) for one in stops_of(kit) if one.role == role}
        got: dict[str | None, list[Made]] = {}
        kept: list[Made] = []
        for one in moves(ask(question), question, kit, role):
            if one in made or self.spent():
                continue
            child = made | {one}
            after = {_named(left) for left in stops_of(self.kit(child))}
            if not mine <= after and len(after) <= len(before) and not _in_vain(one, before, after):
                if one.kind in (ChangeKind.SUPPLY, ChangeKind.FETCH) and not one.asks("companion"):
                    got.setdefault(one.role, []).append(child)
                else:
                    kept.append(child)
        best = [min(some, key=lambda child: len(stops_of(self.kit(child)))) for some in got.values()]
        yield from sorted((*best, *kept), key=lambda child: max(one.kind.rank for one in child - made))

    def first(self, made: Made) -> str | None:
        """The role (None: the kit) to be seen to first."""
        return stops_of(self.kit(made))[0].role

    def roots(self) -> list[Made]:
        """Where the search begins: the question as it is, and by other routes."""
        kit = self.kit(frozenset())
        return [frozenset(), *(frozenset({one}) for one in routes(ask(self.question), kit))]

    def dive(self) -> None:
        """One way to the end, by the safest change each time: a kit that lacks much has a proposal too."""
        made: Made = frozenset()
        while not self.ready(made) and len(made) < MOST_CHANGES and not self.spent():
            step = next(self.children(made, self.first(made)), None)
            if step is None:
                return
            made = step
        if self.ready(made):
            self.found.append(made)

    def widen(self) -> None:
        """All sets, small ones first."""
        level, seen = self.roots(), set[Made]()
        for _size in range(MOST_CHANGES):
            further: list[Made] = []
            for made in level:
                if made in seen or any(one <= made for one in self.found):
                    continue
                seen.add(made)
                if self.spent():
                    return
                if self.ready(made):
                    self.found.append(made)
                else:
                    further.append(made)
            level = [child for made in further for child in self.children(made, self.first(made))]
            if not level:
                return
        self.whole = False

    def proposals(self) -> list[Proposal]:
        """The sets that were found, made least, in order."""
        least: dict[Made, bool] = {}
        for made in self.found:
            smaller, proved = self._least(made)
            least[smaller] = proved
        alone = [one for one in least if not any(other < one for other in least)]
        alone = list({_as_told(one): one for one in sorted(alone, key=_order, reverse=True)}.values())[::-1]
        if len(alone) > MOST_PROPOSALS:
            self.whole = False
        return [Proposal(_told(one), least[one]) for one in alone[:MOST_PROPOSALS]]

    def _least(self, made: Made) -> tuple[Made, bool]:
        """A part of `made` that is ready and of which no part is, and whether every part was judged."""
        smaller = next((part for part in _parts(made) if self.ready(part)), None)
        if smaller is not None:
            return self._least(smaller)
        return made, len(made) <= MOST_PARTS

    def stuck(self) -> Iterator[str]:
        """What stops the kit and no change here takes away."""
        kit = self.kit(frozenset())
        roles = tuple(dict.fromkeys(one.role for one in stops_of(kit)))
        held = [role for role in roles if next(self.children(frozenset(), role), None) is None]
        for role in held or roles:
            first = next(one for one in stops_of(kit) if one.role == role)
            yield f"{first.code}: {first.text} {first.remedy}"


def _in_vain(one: Change, before: set[Stop], after: set[Stop]) -> bool:
    """Whether a role stays empty as before, though the change lays no companion, or a pin cannot hold."""
    empty = ("role-empty", one.role, None)
    if one.kind is ChangeKind.PIN:
        return any(code == "pin-broken" and role == one.role for code, role, _piece in after)
    return empty in before and empty in after and not one.asks("companion")


def _named(one: Finding) -> Stop:
    return one.code, one.role, one.piece


def _parts(made: Made) -> Iterator[Made]:
    """Every part of `made`, the small ones first; of a large set those that leave one out."""
    some = _told(made)
    sizes: Iterable[int] = range(len(some)) if len(some) <= MOST_PARTS else (len(some) - 1,)
    for size in sizes:
        yield from (frozenset(part) for part in combinations(some, size))


def _told(made: Made) -> tuple[Change, ...]:
    return tuple(sorted(made, key=_by_kind))


def _by_kind(one: Change) -> tuple[int, str, str, str]:
    return one.kind.rank, one.role or "", one.text, one.piece or ""


def _as_told(made: Made) -> tuple[tuple[str, str], ...]:
    """What a person reads: the same piece may be asked for in view of two routes."""
    return tuple((one.kind.value, one.text) for one in _told(made))


def _order(made: Made) -> tuple[object, ...]:
    kinds = [one.kind for one in made]
    told = tuple(_by_kind(one) for one in _told(made))
    return kinds.count(ChangeKind.WORD), kinds.count(ChangeKind.PIN), len(made), told


def near_only(question: Question) -> Question:
    """The question without pieces that are near no role by any route, and no companions: they change nothing."""
    kept: set[str] = {pin.sha256 for pin in question.pins}
    images = {one.sha256: images_of(one.reading) for one in question.candidates}
    for route in question.family.routes or (question.route,):
        asked = ask(replace(question, route=route))
        for wanted in asked.wanted.values():
            for one in question.candidates:
                if one.sha256 not in kept and _near(asked, wanted, one, images[one.sha256]):
                    kept.add(one.sha256)
    kept |= {beside.sha256 for one in question.candidates if one.sha256 in kept for beside in one.beside}
    return replace(question, candidates=tuple(one for one in question.candidates if one.sha256 in kept))


def _near(asked: Asked, wanted: Wanted, one: Candidate, images: tuple[Image, ...]) -> bool:
    try:
        return is_near(asked, wanted, one, images)
    except Exception:
        return True
