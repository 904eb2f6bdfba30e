"""What a new text of an accepted family changes: its values, and the kits that the catalogue gives by it.

The text that was accepted last is kept by content beside the catalogue, for the file itself is mostly written over.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from catalogue.errors import NotWorkable
from catalogue.families.differences import between
from catalogue.families.load import Loaded, load_file
from catalogue.families.model import Family
from catalogue.families.source import read_source
from catalogue.kits.candidate import Question
from catalogue.kits.judge import judge
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Kit
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import FamilyUpdate, KitChange
from catalogue.store import Store
from catalogue.tasks import candidates, known, settings
from catalogue.tasks.context import Context

NO_ROUTE = "no such route"
MOST_WRITTEN = 20


def keep_text(store: Store, file: Path, sha256: str) -> None:
    """Keep an accepted text; where the disk does not take it, the next update cannot be compared, and that is all."""
    try:
        store.keep(sha256, [file.read_bytes()])
    except (NotWorkable, OSError):
        return


def run(context: Context, store: Store, loaded: Loaded, progress: Progress) -> FamilyUpdate | None:
    """What `loaded` changes; None where no other text of its id was accepted, or that text is not at hand."""
    new = loaded.family
    if new is None:
        return None
    accepted = store.accepted_before(new.id)
    if not accepted or accepted[0] == loaded.sha256:
        return None
    path = store.kept_path(accepted[0]) or _in_a_folder(context, new.id, accepted[0])
    if path is None:
        return None
    before = load_file(path, (settings.shipped_families(), *known.folders(context)))
    old_root, new_root = read_source(path).root, read_source(Path(loaded.file)).root
    if before.family is None or before.sha256 != accepted[0] or old_root is None or new_root is None:
        return None
    written = tuple(target for _id, target, _when, body in store.kits_written() if f'"{accepted[0]}"' in body)
    kits = tuple(_kits(context, store, before.family, new, progress))
    return FamilyUpdate(accepted[0], between(old_root, new_root), kits, written[:MOST_WRITTEN])


def _in_a_folder(context: Context, id_: str, sha256: str) -> Path | None:
    for folder in known.folders(context):
        for file in sorted(folder.glob("*.toml")):
            source = read_source(file)
            if source.id == id_ and source.sha256 == sha256:
                return file
    return None


def _kits(context: Context, store: Store, old: Family, new: Family, progress: Progress) -> Iterator[KitChange]:
    """How every route's kit differs, words applied, without pins."""
    before, after = _judged(context, store, old, progress), _judged(context, store, new, progress)
    for route in dict.fromkeys((*before, *after)):
        yield from _changed(route, before.get(route), after.get(route))


def _judged(context: Context, store: Store, family: Family, progress: Progress) -> dict[str, Kit]:
    """The kits of a family as if it were settled: what is compared is what it teaches."""
    family = replace(family, settled=True, problems=())
    gathered = candidates.gather(store, family, (), progress).candidates
    words = store.words(family.id)
    return {
        route.id: judge(Question(family, route, gathered, context.today, words=words)) for route in family.routes
    }


def _changed(route: str, old: Kit | None, new: Kit | None) -> Iterator[KitChange]:
    if old is None or new is None:
        yield KitChange(route, "verdict", old.verdict if old else NO_ROUTE, new.verdict if new else NO_ROUTE)
        return
    if old.verdict != new.verdict:
        yield KitChange(route, "verdict", old.verdict, new.verdict)
    was, now = _stops(old), _stops(new)
    if was != now:
        yield KitChange(route, "stops", was, now)
    had, has = _roles(old), _roles(new)
    for role in dict.fromkeys((*had, *has)):
        if had.get(role) != has.get(role):
            yield KitChange(route, role, had.get(role, "no such role"), has.get(role, "no such role"))


def _stops(kit: Kit) -> str:
    codes = dict.fromkeys(one.code for one in kit.findings if one.level is Level.STOP)
    return ", ".join(codes) or "none"


def _roles(kit: Kit) -> dict[str, str]:
    """What was chosen for each role: the names and the beginnings of the hashes."""
    names = {one.sha256: one.name for one in kit.pieces}
    return {
        one.role: ", ".join(f"{names.get(piece, '')} {piece[:12]}".strip() for piece in one.pieces) or "nothing"
        for one in kit.roles
    }
