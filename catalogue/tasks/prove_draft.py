"""Prove a drafted family by what it was drafted from: that comes out ready, and a counter-example comes out stopped.

The folder is indexed into a catalogue of its own that is thrown away. Where it is not here, as on another bench, the
pieces of the catalogue in use that the family names by their digests stand for it. A counter-example is the other
mode's ROM, from the folder or else from the catalogue in use; where there is none, every other indexed piece of the
same kind. Words and pins that somebody gave do not count: the family must stand by itself.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from catalogue.errors import Stopped
from catalogue.families.model import Drafted, Family, Route
from catalogue.intake import indexing
from catalogue.kits import counter
from catalogue.kits.asked import Asked, Wanted, ask
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.images import OPTION_ROM
from catalogue.kits.judge import judge
from catalogue.shapes.draft import Counter, Proof, ProvedRoute
from catalogue.shapes.finding import Finding, Level
from catalogue.shapes.kit import Kit
from catalogue.shapes.piece import INTO
from catalogue.shapes.progress import Progress
from catalogue.store import Store
from catalogue.tasks import candidates
from catalogue.tasks.context import Context

MOST_OTHERS = 300
"""Other pieces of one kind that are tried as counter-examples of one role; by SHA-256, so the same ones each time."""
MOST_ROMS = 20
MOST_FILES = 20_000
"""Files of a folder that are looked at: a family file from elsewhere may name any folder."""
MOST_STOPS = 20
OTHER_MODES = "the other mode's ROM"
APART = "nothing here tells the modes apart"


class _TooMany(Stopped):
    """The folder holds more files than are looked at."""


class _Bounded:
    """A progress that ends the work at MOST_FILES."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress

    def report(self, done: int, total: int | None, what: str) -> None:
        """Pass on; raise Stopped where a person wants it, or the bound is reached."""
        self._progress.report(done, total, what)
        if done > MOST_FILES:
            raise _TooMany(f"more than {MOST_FILES} files")


@dataclass(frozen=True, slots=True)
class _Ground:
    """What is judged: the family as if it were settled, the folder's candidates, and the catalogue in use."""

    context: Context
    store: Store
    family: Family
    own: tuple[Candidate, ...]
    progress: Progress


def run(context: Context, store: Store, family: Family, drafted: Drafted, progress: Progress) -> Proof:
    """The proof of `family`, whose file says that it was drafted. `store` is the catalogue in use. Raises Stopped."""
    family = replace(family, settled=True, problems=())
    source = drafted.folder or f"{len(drafted.pieces)} pieces of the catalogue"
    if not family.routes:
        return Proof(source, missing=("no route: what is done to a card is not said yet",))
    try:
        return _proof(context, store, family, drafted, progress, source)
    except _TooMany:
        text = f"{source}, which this was drafted from, holds more than {MOST_FILES} files; draft from a smaller folder"
        return Proof(source, missing=(text,))


def _proof(
    context: Context, store: Store, family: Family, drafted: Drafted, progress: Progress, source: str
) -> Proof:
    with _drafted_from(store, family, drafted, progress) as (own, said):
        if not own:
            return Proof(source, missing=(_nothing(source, drafted),), said=said)
        ground = _Ground(context, store, family, own, progress)
        routes: list[ProvedRoute] = []
        counters: list[Counter] = []
        missing: list[str] = []
        for route in family.routes:
            question = Question(family, route, own, context.today)
            kit = judge(question)
            stops = [one for one in kit.findings if one.level is Level.STOP]
            routes.append(ProvedRoute(route.id, kit.verdict, tuple(map(_stop, stops[:MOST_STOPS]))))
            if stops:
                missing += [f"route {route.id}: {source} does not come out ready: {_stop(one)}" for one in stops[:3]]
            found = list(_counters(ground, question, kit))
            counters += found
            missing += _amiss(route, found)
    return Proof(source, tuple(routes), tuple(counters), tuple(dict.fromkeys(missing)), said)


@contextmanager
def _drafted_from(
    store: Store, family: Family, drafted: Drafted, progress: Progress
) -> Iterator[tuple[tuple[Candidate, ...], tuple[str, ...]]]:
    """The candidates that the draft's own pieces give, and what a person should know of them."""
    if not _is_here(drafted):
        named = frozenset(drafted.pieces) or _named(family)
        found = candidates.gather(store, family, named, progress).candidates
        own = tuple(one for one in found if one.sha256 in named)
        beside = {each.sha256 for one in own for each in one.beside}
        gone = len(named - {one.sha256 for one in own})
        said = [f"{gone} of the pieces that it was made from or names are not indexed."] if gone else []
        if drafted.folder:
            said.append(f"{drafted.folder} is not here: the indexed pieces that the family names stand for it.")
        yield tuple(one for one in found if one.sha256 in named or (own and one.sha256 in beside)), tuple(said)
        return
    with tempfile.TemporaryDirectory(prefix="kitproof-draft-") as scratch, Store.open(
        str(Path(scratch) / "proof.sqlite")
    ) as one:
        summary = indexing.index(one, [Path(drafted.folder)], _Bounded(progress))
        gathered = candidates.gather(one, family, (), progress)
        yield gathered.candidates, tuple(f"{each.place}: {each.why}" for each in summary.unreadable)


def _is_here(drafted: Drafted) -> bool:
    """Whether the folder is one of this machine: no file may send us to another (a UNC path, [MS-DTYP] 2.2.57)."""
    return bool(drafted.folder) and not drafted.folder.startswith(("\\\\", "//")) and Path(drafted.folder).is_dir()


def _nothing(source: str, drafted: Drafted) -> str:
    """What is said where no piece is left to judge by."""
    if _is_here(drafted):
        return f"nothing in {source}, which this was drafted from, is near what it says"
    return (
        f"{source}, which this was drafted from, is not here, nor are the pieces that it names, so that nothing shows "
        "it right; bring it back and index it, or take `drafted` out of the file to accept it as one written by hand"
    )


def _named(family: Family) -> frozenset[str]:
    """The SHA-256s that the releases of a family name."""
    claims = (claim for release in family.releases for claim in release.claims.values())
    return frozenset(digest for claim in claims for digest in claim.sha256)


def _counters(ground: _Ground, question: Question, kit: Kit) -> Iterator[Counter]:
    """Every counter-example of one route, tried."""
    asked = ask(question)
    roms = counter.rom_roles(asked, kit)
    tried = False
    for wanted in roms:
        for one in _other_modes(ground, asked, wanted)[:MOST_ROMS]:
            tried = True
            yield _tried(question, kit, wanted, one, OTHER_MODES)
    if tried:
        return
    for wanted in roms or [one for one in asked.wanted.values() if one.role.written]:
        others = [one for one in _same_kind(ground, asked, kit, wanted) if counter.shows_something(asked, wanted, one)]
        for number, one in enumerate(others):
            ground.progress.report(number, len(others), f"trying what else could be taken for {wanted.role.name}")
            yield _tried(question, kit, wanted, one, f"another {one.kind}")


def _tried(question: Question, kit: Kit, wanted: Wanted, one: Candidate, what: str) -> Counter:
    stops = counter.stopped_by(question, kit, wanted.role.name, one, by_fit=what == OTHER_MODES)
    place = INTO.join((one.places[0].path, *one.places[0].inside)) if one.places else one.sha256[:12]
    return Counter(question.route.id, wanted.role.name, one.sha256, place, what, stops)


def _other_modes(ground: _Ground, asked: Asked, wanted: Wanted) -> tuple[Candidate, ...]:
    own = counter.other_modes_roms(asked, wanted, ground.own)
    if own:
        return own
    named = frozenset((i.vendor, i.device) for mode in ground.family.modes.values() for i in mode.ids)
    if not ground.store.pieces_naming(named):
        return ()
    found = candidates.gather(ground.store, ground.family, (), ground.progress).candidates
    return counter.other_modes_roms(asked, wanted, found)


def _same_kind(ground: _Ground, asked: Asked, kit: Kit, wanted: Wanted) -> tuple[Candidate, ...]:
    """Every other piece of the role's kind, in the folder and in the catalogue in use; MOST_OTHERS of them."""
    chosen = next((one.pieces[0] for one in kit.roles if one.role == wanted.role.name and one.pieces), "")
    kind = wanted.kind or next((one.kind for one in ground.own if one.sha256 == chosen), "")
    known = asked.digests | {one for choice in kit.roles for one in choice.pieces}
    own = [one for one in ground.own if _alike(one.kind, kind) and one.sha256 not in known]
    seen = known | {one.sha256 for one in own}
    rest = [sha for sha, _size, held in ground.store.all_pieces() if _alike(held, kind) and sha not in seen]
    wanted_shas = rest[: max(0, MOST_OTHERS - len(own))]
    if not wanted_shas:
        return tuple(own[:MOST_OTHERS])
    found = candidates.gather(ground.store, ground.family, wanted_shas, ground.progress).candidates
    return (*own, *(one for one in found if one.sha256 in set(wanted_shas)))[:MOST_OTHERS]


def _alike(one: str, kind: str) -> bool:
    """Whether two kinds are the same; a ROM of several images has no code type of its own."""
    return one == kind or (one.startswith(OPTION_ROM) and kind.startswith(OPTION_ROM))


def _amiss(route: Route, found: Iterable[Counter]) -> Iterator[str]:
    """What the counter-examples of a route leave unshown."""
    held = list(found)
    if not held:
        yield (
            f"route {route.id}: no counter-example is here; index a folder with the other mode's ROM, or with any "
            "other piece of the kind that this route writes"
        )
    for one in held:
        if not one.stops:
            why = APART if one.what == OTHER_MODES else "nothing here tells it from the right piece"
            yield f"route {route.id}: {one.what} ({one.place}) is taken for {one.role}: {why}"


def _stop(one: Finding) -> str:
    role = f"{one.role}: " if one.role else ""
    return f"{role}{one.text} ({one.code})"
