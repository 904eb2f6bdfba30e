"""A person's word: it clears one finding for one content in one family, with a reason and a name."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from datetime import date

from catalogue.errors import BadCall
from catalogue.families.model import Family
from catalogue.kits.kit_id import RULES_VERSION
from catalogue.kits.kit_rules import KIT_RULES
from catalogue.kits.piece_rules import PIECE_RULES
from catalogue.kits.rule import Weight
from catalogue.kits.word_age import Now, Then, changes
from catalogue.media.target_rules import TARGET_RULES
from catalogue.shapes.changes import Changes
from catalogue.shapes.kit import Word
from catalogue.shapes.piece import Place
from catalogue.shapes.results import WordGiven
from catalogue.store import Store
from catalogue.store.spoken import Context as Stood
from catalogue.store.spoken import Spoken
from catalogue.tasks import known
from catalogue.tasks.context import Context
from catalogue.tasks.hashes import whole_hash


def give(context: Context, family: str, code: str, sha256: str, reason: str, by: str) -> Changes:
    """Record a word. Raises BadCall without reason or name, or for a code that no word clears."""
    with Store.open(context.catalogue) as store:
        of = known.named(context, store, family)
        record(store, of, Word(code, whole_hash(store, sha256), reason, by))
    return Changes(words=True)


def record(store: Store, family: Family, word: Word) -> None:
    """Record a word in an open store, with what stands now; see `give`."""
    if not word.reason.strip() or not word.by.strip():
        raise BadCall("A word needs a reason and the name of whoever gives it.")
    why = not_clearable(word.code)
    if why:
        raise BadCall(why)
    place = _place(store, word.sha256)
    path, inside = (os.fsencode(place.path), place.inside) if place is not None else (b"", ())
    store.give_word(family.id, word, Stood(family.sha256, RULES_VERSION, path, inside))


def not_clearable(code: str) -> str:
    """Why no word clears `code`; "" where one does."""
    clearable = {rule.code: rule.level is Weight.CLEARABLE for rule in PIECE_RULES}
    clearable |= {rule.code: rule.level is Weight.CLEARABLE for rule in KIT_RULES}
    clearable |= {rule.code: rule.level is Weight.CLEARABLE for rule in TARGET_RULES}
    if code not in clearable:
        return f"No rule has the code {code}."
    return "" if clearable[code] else f"No word clears {code}: what it finds must be mended, not decided."


def take_back(context: Context, family: str, code: str, sha256: str) -> Changes:
    """Take a word back. Raises BadCall where no such word was given; `sha256` may be a unique beginning of one."""
    with Store.open(context.catalogue) as store:
        given = [one.sha256 for one in store.spoken_words(family) if one.code == code]
        found = [one for one in given if one.startswith(sha256.lower())] if sha256 else []
        if len(found) != 1:
            raise BadCall(f"{len(found) or 'No'} word for {code} on a piece {sha256} is on record for {family}.")
        store.take_back_word(family, code, found[0])
    return Changes(words=True)


def listed(context: Context, family: str) -> list[WordGiven]:
    """The words given for a family, the newest first, each with what has changed since. Raises BadCall."""
    with Store.open(context.catalogue) as store:
        of = known.named(context, store, family)
        return [_given(store, of, one, context.today) for one in store.spoken_words(of.id)]


def said_of_old(store: Store, family: Family, counted: Sequence[Word], today: date) -> Iterator[str]:
    """One line for each word that counts in a kit and since which something has changed."""
    if not counted:
        return
    counts = {(one.code, one.sha256) for one in counted}
    for one in store.spoken_words(family.id):
        if (one.code, one.sha256) in counts:
            given = _given(store, family, one, today)
            if given.changed:
                yield f"The word of {one.by} of {one.at[:10]} on {one.code}: {' '.join(given.changed)}"


def _given(store: Store, family: Family, one: Spoken, today: date) -> WordGiven:
    place = _place(store, one.sha256)
    accepted = store.accepted_at(family.id, family.sha256)
    stood = one.context
    then, there = None, None
    if stood is not None:
        old = Place(os.fsdecode(stood.path), stood.inside) if stood.path else None
        there = store.piece_at(stood.path, stood.inside) if old is not None else None
        then = Then(stood.family_sha256, stood.rules, str(old) if old is not None else "")
    now = Now(family.sha256, RULES_VERSION, today, accepted, place is not None, there)
    return WordGiven(
        family.id,
        one.code,
        one.sha256,
        one.reason,
        one.by,
        one.at,
        str(place) if place is not None else "",
        tuple(changes(one.sha256, one.at, then, now)),
    )


def _place(store: Store, sha256: str) -> Place | None:
    info = store.piece_infos([sha256]).get(sha256)
    return info.places[0] if info is not None and info.places else None
