"""Choose one piece for every role of a route, and prove the whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families.model import Family, Route
from catalogue.kits import judge
from catalogue.kits.candidate import Question
from catalogue.shapes.host import NO_HOST, Host
from catalogue.shapes.kit import Kit, Pin, Word
from catalogue.shapes.progress import Progress, Quiet
from catalogue.store import Store
from catalogue.tasks import candidates, known, ran_before, saved_texts, words
from catalogue.tasks.context import Context
from catalogue.tasks.hashes import whole_hash


def run(
    context: Context,
    family: str,
    route: str | None = None,
    *,
    pins: Sequence[Pin] = (),
    words: Sequence[Word] = (),
    host: Host = NO_HOST,
    saved: Sequence[Path] = (),
    progress: Progress | None = None,
) -> Kit:
    """The kit of `family` by `route` (its first where None), judged from the catalogue as it stands.

    `saved` are texts in which cards show themselves; what they tell is judged too. Hashes of `pins` and `words` may be
    unique beginnings; words given are recorded for family, code and hash, pins belong to this kit alone. Raises BadCall
    for names and hashes nobody knows, and for a word that clears nothing.
    """
    with Store.open(context.catalogue) as store:
        how = judged(context, store, family, route, pins=pins, said=words, host=host, saved=saved,
                      progress=progress or Quiet())  # fmt: skip
        return how[0]


def judged(
    context: Context,
    store: Store,
    family: str,
    route: str | None,
    *,
    pins: Sequence[Pin] = (),
    said: Sequence[Word] = (),
    host: Host = NO_HOST,
    saved: Sequence[Path] = (),
    progress: Progress,
) -> tuple[Kit, Family, Route]:
    """As `run`, on an open store; with the family and route it was judged by."""
    asked = ask(context, store, family, route, pins=pins, said=said, host=host, saved=saved, progress=progress)
    return answer(context, store, asked), asked.question.family, asked.question.route


@dataclass(frozen=True, slots=True)
class Asked:
    """A question as the catalogue gathers it, and how many pieces could not be looked through."""

    question: Question
    passed_over: int


def ask(
    context: Context,
    store: Store,
    family: str,
    route: str | None,
    *,
    pins: Sequence[Pin] = (),
    said: Sequence[Word] = (),
    host: Host = NO_HOST,
    saved: Sequence[Path] = (),
    progress: Progress,
    also: Sequence[str] = (),
) -> Asked:
    """The question of a kit; words given are recorded. `also` are pieces (whole SHA-256s) gathered near or not."""
    of = known.named(context, store, family)
    by = known.route(of, route)
    whole_pins = tuple(_whole_pin(store, of, by, pin) for pin in pins)
    for word in said:
        words.record(store, of, replace(word, sha256=whole_hash(store, word.sha256)))
    cards, used = saved_texts.cards_in(saved, of)
    gathered = candidates.gather(store, of, (*(pin.sha256 for pin in whole_pins), *also), progress, host)
    before = ran_before.of_kit(store, of, by, cards)
    question = Question(
        family=of,
        route=by,
        candidates=gathered.candidates,
        today=context.today,
        pins=whole_pins,
        words=store.words(of.id),
        ran=before.ran,
        route_ran=before.route_ran,
        host=host,
        cards=cards,
        saved=used,
    )
    return Asked(question, gathered.passed_over)


def answer(context: Context, store: Store, asked: Asked) -> Kit:
    """The judge's answer, with what the catalogue has to say besides; it is remembered by its id."""
    kit = judge.judge(asked.question)
    kit = replace(kit, said=(*kit.said, *words.said_of_old(store, asked.question.family, kit.words, context.today)))
    if asked.passed_over:
        kit = replace(kit, said=(*kit.said, _passed_over(asked.passed_over)))
    store.remember_kit(kit)
    return kit


def _passed_over(count: int) -> str:
    pieces = "One piece" if count == 1 else f"{count} pieces"
    return f"{pieces} could not be looked through: gone or changed since the folder was indexed. Index it again."


def _whole_pin(store: Store, family: Family, route: Route, pin: Pin) -> Pin:
    if pin.role not in (*route.needs, *route.may):
        roles = ", ".join((*route.needs, *route.may))
        raise BadCall(f"Route {route.id} of {family.id} has no role {pin.role}; it has {roles}.")
    return replace(pin, sha256=whole_hash(store, pin.sha256))
