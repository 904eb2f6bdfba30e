"""What is stale or withdrawn: pieces that lie in the catalogue, and kits that were written out."""

from __future__ import annotations

import json
from dataclasses import replace

from catalogue.families.model import Family
from catalogue.kits.aged import Aged, aged
from catalogue.kits.candidate import Question
from catalogue.shapes.from_json import NotAKit, from_json_kit
from catalogue.shapes.kit import Kit
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import Stale
from catalogue.store import Store
from catalogue.tasks import candidates, known
from catalogue.tasks.context import Context


def run(context: Context, progress: Progress | None = None) -> list[Stale]:
    """Every stale or withdrawn piece by what the settled families know, then the written kits that hold one.

    A family that is not settled says nothing: what it knows is not to be trusted yet. Raises Stopped.
    """
    told = progress or Quiet()
    found: list[Stale] = []
    with Store.open(context.catalogue) as store:
        families = known.families(context, store).families
        kits = [(when, target, kit) for _id, target, when, body in store.kits_written() if (kit := _kit(body))]
        for number, id_ in enumerate(sorted(families)):
            family = families[id_]
            told.report(number, len(families), family.title)
            if not family.settled:
                continue
            old = _of_family(context, store, family, kits, told)
            found += (_piece(family, one) for one in old.values())
            for when, target, kit in kits:
                if kit.family == id_:
                    found += _of_kit(family, kit, when, target, old)
    return found


def _of_family(
    context: Context, store: Store, family: Family, kits: list[tuple[str, str, Kit]], progress: Progress
) -> dict[tuple[str, str], Aged]:
    """By role and SHA-256; a piece that serves several routes counts once."""
    written = {one.sha256 for _when, _target, kit in kits if kit.family == family.id for one in kit.pieces}
    gathered = candidates.gather(store, family, sorted(written), progress)
    old: dict[tuple[str, str], Aged] = {}
    for route in family.routes:
        for one in aged(Question(family, route, gathered.candidates, context.today)):
            old.setdefault((one.role, one.sha256), one)
    return old


def _kit(body: str) -> Kit | None:
    try:
        return from_json_kit(json.loads(body))
    except (NotAKit, ValueError):
        return None


def _piece(family: Family, one: Aged) -> Stale:
    return Stale(one.name, one.has, one.newest, one.why, family.id, one.role, one.sha256, one.age, family.as_of)


def _of_kit(family: Family, kit: Kit, when: str, target: str, old: dict[tuple[str, str], Aged]) -> list[Stale]:
    """One line for each piece of a written kit that is stale or withdrawn by now."""
    made = []
    for role in kit.roles:
        for sha256 in role.pieces:
            one = old.get((role.role, sha256))
            if one is not None:
                what = f"kit {kit.id[:12]}, written to {target} on {when[:10]}"
                made.append(replace(_piece(family, one), what=what, kit=kit.id, target=target, when=when))
    return made
