"""Which of the pieces that fit are stale or withdrawn by what the family knows, and what is newer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from catalogue.kits.asked import ask
from catalogue.kits.candidate import Question
from catalogue.kits.case import Case
from catalogue.kits.criteria import NO
from catalogue.kits.images import images_of
from catalogue.kits.near import is_near
from catalogue.kits.weigh import weigh
from catalogue.kits.words import words_of

OLD = ("stale", "withdrawn")


@dataclass(frozen=True, slots=True)
class Aged:
    """One piece in one role: its age, the version it has, the newest known, whether that one is held, and why."""

    role: str
    sha256: str
    name: str
    age: str
    has: str
    newest: str
    held: bool
    why: str


def aged(question: Question) -> Iterator[Aged]:
    """The stale and withdrawn pieces of every role of the question's route, in the route's order."""
    asked = ask(question)
    images = {sha256: images_of(one.reading) for sha256, one in asked.candidates.items()}
    for name, wanted in asked.wanted.items():
        near = weigh(asked, wanted, words_of(()), images)
        for one in near.pieces:
            case = one.case
            if case.unread or case.fit == NO or not is_near(asked, wanted, case.candidate, case.images):
                continue
            if case.age in OLD:
                yield _aged(name, case)


def _aged(role: str, case: Case) -> Aged:
    known, version = case.known, case.version
    has = version.name if version is not None else ", ".join(one.name for one in case.claiming)
    newest = known.newest or (known.latest.name if known.latest is not None else "")
    held = bool(known.newest) and known.key(known.newest or "") in case.fellows.versions
    if case.age == "withdrawn":
        back = known.taken_back(case.sha256, version)
        why = "; ".join(f"withdrawn: {one.why} ({one.source})" for one in back)
    else:
        why = f"a newer one is known, {'and held' if held else 'and not held'}"
    places = case.candidate.places
    name = str(places[0]) if places else case.sha256
    return Aged(role, case.sha256, name, case.age, has, newest, held, why)
