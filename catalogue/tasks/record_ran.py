"""Record that a piece ran: a card that was converted with it compared well afterwards.

It is not claimed lightly. There must be a kit that was written out from this catalogue and holds the piece; the family
file must be the very one that kit was judged by, and settled; and the two saved listings must show that this card went
from the route's first mode to its last and is still the same card (`cards.after_check`). Where the listing afterwards
shows a version for the role, it must be the piece's. A person answers for the listings by name.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from catalogue.cards.after_check import Compared, compare, plain, steps_of
from catalogue.errors import BadCall
from catalogue.facts.form import MAX_TEXT
from catalogue.families.model import Family, Route
from catalogue.kits.known import know
from catalogue.shapes.changes import Changes
from catalogue.shapes.facts import Fact, RanFact, fact_id
from catalogue.shapes.from_json import from_json_kit
from catalogue.shapes.kit import Kit, RoleChoice
from catalogue.shapes.results import Vouched
from catalogue.store import Store, facts, names
from catalogue.store.snapshot import now
from catalogue.tasks import known, saved_texts
from catalogue.tasks.context import Context
from catalogue.tasks.hashes import whole_hash


@dataclass(frozen=True, slots=True)
class _Told:
    """The two listings, and the kit that they are about ("" where nobody says which)."""

    before: str
    after: str
    kit: str


def run(
    context: Context,
    begins: str,
    card: str,
    by: str,
    before: Path | None = None,
    after: Path | None = None,
    kit: str = "",
) -> Vouched:
    """Record that the piece whose SHA-256 begins with `begins` ran on `card`, an identity that its listings show.

    Without listings, those of an after-check of the card that is recorded already are taken. `kit` is the id of the kit
    it was converted with, or its beginning; else it is the newest written that holds the piece. Raises BadCall for a
    call that cannot be right; an after-check that does not compare well is told in `refused`.
    """
    if not by.strip():
        raise BadCall("Whoever says that a piece ran must be named: give --by.")
    if not plain(card):
        raise BadCall("Name the card by an identity that its listings show: its address or its serial number.")
    with Store.open(context.catalogue) as store:
        sha256 = whole_hash(store, begins)
        told = _told(store, card, before, after, kit)
        used, roles = _kit(store, sha256, told.kit)
        family = known.named(context, store, used.family)
        route = known.route(family, used.route)
        wrong = list(_family(family, used))
        checked = compare(family, route, told.before, told.after, card)
        wrong += checked.wrong
        for choice in roles:
            wrong += _version(family, choice, checked)
        if wrong:
            return Vouched(0, 0, refused=tuple(wrong))
        said = [_fact(used, route, one, checked, sha256, told, by) for one in roles]
        with store.writing() as connection:
            for one in said:
                facts.put(connection, Fact(fact_id(one), one))
                facts.stand(connection, [fact_id(one)])
    return Vouched(len(said), 1, changes=Changes(vouching=True), facts=tuple(fact_id(one) for one in said))


def _told(store: Store, card: str, before: Path | None, after: Path | None, kit: str) -> _Told:
    if before is not None and after is not None:
        texts = [saved_texts.text_of(saved_texts.data_of(one)) for one in (before, after)]
        for file, text in zip((before, after), texts, strict=True):
            if len(text) > MAX_TEXT:
                raise BadCall(f"The saved text {file} is longer than {MAX_TEXT >> 10} KiB.")
        first, second = (names.plain(one) for one in texts)
        return _Told(first, second, kit.lower())
    if before is not None or after is not None:
        raise BadCall("An after-check takes two listings: give --before and --after.")
    with store.reading() as connection:
        mine = [one for one in facts.rans(connection) if plain(one.card) == plain(card)]
    if not mine:
        raise BadCall(
            f"No after-check of card {card} is recorded here. Give its listings, saved before and after the "
            "conversion, with --before and --after."
        )
    return _Told(mine[-1].before, mine[-1].after, kit.lower() or mine[-1].kit)


def _kit(store: Store, sha256: str, begins: str) -> tuple[Kit, tuple[RoleChoice, ...]]:
    """The kit that was written out with the piece in it, and the roles it filled."""
    for id_, _target, _at, body in store.kits_written():
        if not id_.startswith(begins):
            continue
        kit = from_json_kit(json.loads(body))
        roles = tuple(one for one in kit.roles if sha256 in one.pieces)
        if roles:
            return kit, roles
    which = f" whose id begins with {begins}" if begins else ""
    raise BadCall(f"No kit{which} with this piece was written out from here, so no card was converted with it.")


def _family(family: Family, kit: Kit) -> Iterator[str]:
    if not family.settled:
        yield f"Family {family.id} is not settled."
    if family.sha256 != kit.family_sha256:
        yield f"The file of family {family.id} is not the one that kit {kit.id[:12]} was judged by."


def _version(family: Family, choice: RoleChoice, checked: Compared) -> Iterator[str]:
    shown, role = checked.versions.get(choice.role), family.roles.get(choice.role)
    if shown is not None and role is not None and choice.version is not None:
        of = know(family, role)
        if of.order.speaks_of(shown.text) and not of.same(shown.text, choice.version):
            yield f"The listing afterwards shows {shown.text} for {choice.role}; the piece is {choice.version}."


def _fact(kit: Kit, route: Route, choice: RoleChoice, checked: Compared, sha256: str, told: _Told, by: str) -> RanFact:
    shown = checked.versions.get(choice.role)
    return RanFact(
        by=names.plain(by.strip()),
        at=now(),
        family=kit.family,
        family_sha256=kit.family_sha256,
        route=route.id,
        steps=steps_of(route),
        role=choice.role,
        mode=route.target_mode,
        sha256=sha256,
        subsystem=checked.subsystem,
        revision=checked.revision,
        card=checked.card,
        kit=kit.id,
        version=shown.text if shown is not None else "",
        before=told.before,
        after=told.after,
    )
