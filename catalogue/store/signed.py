"""What signatures by recorded keys say for and against pieces.

Decisions on sentences of the contract (judging.md, "Vouching"):
- A recorded key is a recorded source: a piece whose signature holds is *named*, and so is, whatever it is called, a
  piece whose digest stands in a list whose signature holds. *signed* is for keys that a family pins.
- That a key signed some bytes is true wherever they lie. That a signature is broken speaks against a piece only while
  the two lie beside each other, and not where another signature by a recorded key holds for the same bytes.
- A signed list that lies among the downloads speaks against pieces of its own bundle, as any list does. Only a list
  that a person recorded speaks against pieces elsewhere: an old release's signed list is no word on a newer one.
- A key that a person took back says nothing any more, for or against; what it signed is told of (`taken-back`).
- A list whose signature is broken vouches for nothing, not even from beside.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sqlalchemy import Connection, select

from catalogue.shapes.piece import Place, SignatureCheck, Vouch
from catalogue.shapes.reading import Reading
from catalogue.shapes.signing import BROKEN, HOLDS, UNPROVED
from catalogue.store import bulk, keys, pieces
from catalogue.store.keys import Answer, RecordedKey
from catalogue.store.places import places_of
from catalogue.store.recorded import in_force
from catalogue.store.signature_pairs import ENDINGS, KINDS, Pair, pairs
from catalogue.store.snapshot import now
from catalogue.store.tables import list_entry, piece, recorded_key, signature_answer

NO_KEY, TAKEN_BACK = "no-key", "taken-back"
MOST_PLACES = 64
"""Places of a signature, and of its piece, among which the two that lie beside each other are looked for."""
_ORDER = {BROKEN: 0, HOLDS: 1, TAKEN_BACK: 2, UNPROVED: 3, NO_KEY: 4}


class Signed:
    """What signatures say of some pieces, gathered at once."""

    def __init__(self, connection: Connection, ids: Sequence[int], digests: Mapping[tuple[int, str], bytes]) -> None:
        self._connection = connection
        self._moment = now()
        self._keys = {one.id: one for one in keys.every(connection)}
        self._answers: dict[int, list[Answer]] = {}
        if self._keys:
            for one in keys.answers_about(connection, ids):
                self._answers.setdefault(one.target_id, []).append(one)
        self._lists = self._from_lists(digests) if self._keys else {}
        self._pairs: dict[int, list[Pair]] = {}
        for pair in pairs(connection, ids):
            self._pairs.setdefault(pair.target_id, []).append(pair)
        signatures = {one.signature_id for held in self._pairs.values() for one in held}
        signatures |= {one.signature_id for held in self._answers.values() for one in held}
        self._places = places_of(connection, signatures | self._pairs.keys(), MOST_PLACES)
        self._named = named_by(connection, signatures)

    def vouches(self, id_: int) -> list[Vouch]:
        """What signatures say for a piece: its own, and those of lists that give its digest."""
        own = [
            Vouch("named", self._by(key), self._place(one.signature_id, id_), one.verdict.algorithm, key.at)
            for one in self._holding(id_)
            if (key := self._keys[one.key_id])
        ]
        return own + self._lists.get(id_, [])

    def checks(self, id_: int) -> tuple[SignatureCheck, ...]:
        """Every signature that lies beside a piece, and those that hold wherever they lie."""
        holding = self._holding(id_)
        said = [self._said(one, HOLDS, "") for one in holding]
        proved = {one.signature_id for one in holding}
        for pair in self._pairs.get(id_, ()):
            if pair.signature_id in proved:
                continue
            mine = [one for one in self._answers.get(id_, ()) if one.signature_id == pair.signature_id]
            if mine:
                said += [self._weigh(one, bool(holding)) for one in mine]
            else:
                said.append(self._unasked(pair))
        return tuple(sorted(dict.fromkeys(said), key=lambda one: (_ORDER[one.state], one.place, one.key)))

    def is_broken(self, id_: int) -> bool:
        """Whether a signature beside a piece is broken, and none holds."""
        return any(one.state == BROKEN for one in self.checks(id_))

    def _holding(self, id_: int) -> list[Answer]:
        return [one for one in self._answers.get(id_, ()) if one.verdict.state == HOLDS and not self._past(one)]

    def _past(self, one: Answer) -> bool:
        key = self._keys[one.key_id]
        return bool(key.taken_back or key.key.revoked or (one.verdict.until and one.verdict.until <= self._moment))

    def _weigh(self, one: Answer, proved: bool) -> SignatureCheck:
        state, why = one.verdict.state, one.verdict.why
        back = self._keys[one.key_id].taken_back
        if back and state in (HOLDS, BROKEN):
            state, why = TAKEN_BACK if state == HOLDS else UNPROVED, f"{back}."
        elif state == HOLDS:
            state, why = UNPROVED, f"The key or the signature expired on {one.verdict.until[:10]}."
        elif state == BROKEN and proved:
            state, why = UNPROVED, f"{why} Another signature by a recorded key holds."
        return self._said(one, state if state in _ORDER else UNPROVED, why)

    def _said(self, one: Answer, state: str, why: str) -> SignatureCheck:
        key = self._keys[one.key_id]
        return SignatureCheck(
            self._place(one.signature_id, one.target_id), state, key.name, key.said, why, one.verdict.algorithm
        )

    def _unasked(self, pair: Pair) -> SignatureCheck:
        named = self._named.get(pair.signature_id, ())
        mine = next((one for one in self._keys.values() if set(named) & set(one.key.ids)), None)
        place = self._place(pair.signature_id, pair.target_id)
        if mine is not None:
            why = "It was not checked yet; index its folder again."
            return SignatureCheck(place, UNPROVED, mine.name, mine.said, why)
        key = f"key {named[0].upper()}" if named else "a key it does not name"
        return SignatureCheck(place, NO_KEY, key, "", "No key that it names is recorded, so nothing is known of it.")

    def _place(self, id_: int, target: int) -> str:
        """Where a signature lies: beside the piece it is about, where one of its places is."""
        lies = self._places.get(id_, (Place("a signature that is gone"),))
        near = {str(one).casefold() for one in self._places.get(target, ())}
        return str(next((one for one in lies if _about(str(one)) in near), lies[0]))

    def _by(self, key: RecordedKey) -> str:
        return f"signed by {key.name}, a key from {key.said}"

    def _from_lists(self, digests: Mapping[tuple[int, str], bytes]) -> dict[int, list[Vouch]]:
        """What signed lists give as digests, under whatever name."""
        signing = _signed_lists(self._connection, self._moment)
        if not signing:
            return {}
        by_digest: dict[tuple[str, bytes], list[int]] = {}
        for (id_, algorithm), value in digests.items():
            by_digest.setdefault((algorithm, value), []).append(id_)
        found: dict[int, list[Vouch]] = {}
        lies = places_of(self._connection, signing, 1)
        e = list_entry.c
        for some in bulk.batches({value for _algorithm, value in by_digest}):
            rows = select(e.list_id, e.line, e.algorithm, e.digest).where(e.list_id.in_(sorted(signing)))
            for list_id, line, algorithm, value in self._connection.execute(rows.where(e.digest.in_(some))).all():
                place = f"{lies.get(list_id, (Place('a list that is gone'),))[0]}, line {line}"
                key = self._keys[signing[list_id]]
                by = f"a list {self._by(key)}"
                for id_ in by_digest.get((algorithm, value), ()):
                    if id_ != list_id:
                        found.setdefault(id_, []).append(Vouch("named", by, place, algorithm, key.at))
        return found


def _about(place: str) -> str:
    """The place that a signature's place is about, case folded."""
    folded = place.casefold()
    return next((folded[: -len(end)] for end in ENDINGS if folded.endswith(end)), folded)


def _signed_lists(connection: Connection, moment: str) -> dict[int, int]:
    """The lists whose signature by a recorded key holds, each with the number of the key."""
    a, k = signature_answer.c, recorded_key.c
    rows = select(a.target_id, a.key_id).join(piece, piece.c.id == a.target_id).join(recorded_key, k.id == a.key_id)
    rows = rows.where(piece.c.is_list, a.state == HOLDS, (a.until == "") | (a.until > moment), ~k.revoked)
    rows = rows.where(in_force(k.fact))
    return dict(connection.execute(rows.order_by(a.key_id.desc())).all())


def named_by(connection: Connection, ids: Iterable[int]) -> dict[int, tuple[str, ...]]:
    """The keys that each of these signatures names, lower-case hex, as their readings say."""
    rows = pieces.rows_of(connection, ids)
    return {id_: tuple(dict.fromkeys(_names(one))) for id_, one in pieces.readings_of(connection, rows).items()}


def _names(whole: Reading) -> Iterable[str]:
    for one in (whole, *whole.parts):
        if one.kind in KINDS:
            for field in ("issuer_fingerprint", "issuer_key_id", "key_id"):
                value = one.value(field)
                if isinstance(value, str):
                    yield value.lower()
                    break


def standing(connection: Connection, key_ids: Iterable[int]) -> list[tuple[SignatureCheck, str]]:
    """How each signature that names one of these recorded keys stands, with the place of the piece it is about."""
    wanted = set(key_ids)
    mine = [one for one in keys.every(connection) if one.id in wanted]
    names = {one.name for one in mine}
    ids = {one for key in mine for one in key.key.ids}
    found = pairs(connection)
    naming = named_by(connection, {one.signature_id for one in found})
    targets = sorted({one.target_id for one in found if ids.intersection(naming.get(one.signature_id, ()))})
    said = Signed(connection, targets, {})
    lies = places_of(connection, targets, 1)
    return [
        (check, str(lies.get(id_, (Place("?"),))[0]))
        for id_ in targets
        for check in said.checks(id_)
        if check.key in names
    ]
