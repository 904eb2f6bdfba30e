"""What of another bench's facts contradicts what is here, or cannot be relied on, and so is left out."""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.cards.after_check import compare, steps_of
from catalogue.families.library import Library
from catalogue.families.model import Family
from catalogue.formats.signing_keys import NotAKeyError, read_keys
from catalogue.shapes.facts import Fact, FactsFile, KeyFact, ListFact, RanFact, Said, TakenBack, WordFact
from catalogue.shapes.signing import ED25519, Key
from catalogue.store import facts
from catalogue.tasks import facts_families
from catalogue.tasks.words import not_clearable


class Here:
    """What is here, beside the facts of one file."""

    def __init__(self, records: facts.Records, held: FactsFile, library: Library) -> None:
        self.known = records.known
        self._records = records
        self._ids = {one.id for one in held.facts}
        self._families: dict[str, Family] = {
            one.sha256: one for one in (*facts_families.read_all(held.families, library), *library.families.values())
        }

    def why_not(self, fact: Fact) -> str:
        """Why a fact that is not known here is left out; "" where it may come in."""
        said = fact.said
        if isinstance(said, ListFact):
            return "" if said.entries else "It lists nothing."
        if isinstance(said, KeyFact):
            return self._key(said)
        if isinstance(said, WordFact):
            return self._word(said)
        if isinstance(said, RanFact):
            return self._ran(said)
        return self._taken_back(said, fact.bench)

    def against_known(self, fact: Fact) -> Iterator[str]:
        """What contradicts a fact that is known here: a person here took it back, and the file does not say so."""
        back = self.known[fact.id].taken_back
        if back is not None and not any(
            isinstance(one.said, TakenBack) and one.said == back and id_ in self._ids for id_, one in self.known.items()
        ):
            yield f"{back.by} took it back here on {back.at[:10]}: {back.reason}. It stays so."

    def _key(self, said: KeyFact) -> str:
        if key_of(said) is None:
            return "Its bytes are not the key that it says."
        here = self._records.key(said.kind, said.fingerprint)
        if here is None:
            return ""
        return f"The key is recorded here already, from {here.source}{f' by {here.by}' if here.by else ''}."

    def _word(self, said: WordFact) -> str:
        wrong = not_clearable(said.code)
        if wrong:
            return wrong
        here = self._records.word(said.family, said.code, said.sha256)
        if here is None:
            return ""
        return f"{here.by} gave another word for the same finding here: {here.reason}."

    def _ran(self, said: RanFact) -> str:
        family = self._families.get(said.family_sha256)
        if family is None or family.id != said.family:
            return "The family file by which the card was converted is not here, so its listings cannot be compared."
        if family.problems:
            return f"The file of family {family.id} is not sound."
        route = next((one for one in family.routes if one.id == said.route), None)
        if route is None or steps_of(route) != said.steps or route.target_mode != said.mode:
            return "Its route is not the one of that family file."
        if said.role not in (*route.needs, *route.may):
            return f"Its route has no role {said.role}."
        checked = compare(family, route, said.before, said.after, said.card)
        if checked.wrong:
            return f"Its listings do not compare well: {checked.wrong[0]}"
        if (checked.card, checked.subsystem, checked.revision) != (said.card, said.subsystem, said.revision):
            return "Its listings show another card or board than it says."
        shown = checked.versions.get(said.role)
        return "" if (shown.text if shown is not None else "") == said.version else "Its listings show another version."

    def _taken_back(self, said: TakenBack, bench: str) -> str:
        here = self.known.get(said.fact)
        if here is None or here.taken_back is not None or here.bench == bench:
            return ""
        return f"The fact {said.fact[:12]} stands here; take it back yourself if you agree: {said.reason}"


def key_of(said: Said) -> Key | None:
    """The key that a KeyFact holds, read anew from its bytes; None where they are not that key, and for other facts."""
    if not isinstance(said, KeyFact):
        return None
    data = said.body
    if said.kind == ED25519:
        import base64

        head = f"untrusted comment: {said.holder}".encode("utf-8", "replace")
        data = head + b"\n" + base64.b64encode(said.body) + b"\n"
    try:
        found = read_keys(data)
    except NotAKeyError:
        return None
    wanted = (said.kind, said.fingerprint, said.holder, said.body)
    return next((one for one in found if (one.kind, one.fingerprint, one.holder, one.body) == wanted), None)
