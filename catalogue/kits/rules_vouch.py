"""Rules on what vouches for the bytes of a piece.

Decisions on sentences of the contract:
- `neighbour-only` speaks of pieces that are not written; a companion counts with its utility, in one finding. A piece
  that nothing at all vouches for shows the rung *none*; the contract has no code for it where it is not written.
- `same-version-two-contents` compares pieces that otherwise fit the role; another mode's firmware of the same version
  is another piece, and a damaged copy is stopped by its damage. Between a named and an unnamed content there is nothing
  to settle: the named one is chosen.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from catalogue.kits.case import Case
from catalogue.kits.criteria import place_of
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.kits.vouching import ENOUGH_TO_WRITE, Standing, standing
from catalogue.shapes.finding import Evidence
from catalogue.shapes.piece import Contradiction


def contradicted(case: Case) -> Iterable[Hit]:
    """A checksum list gives another digest for this very path in its bundle, or a recorded source does.

    Fine: a list in another bundle that has a file of the same name; upper-case hex, `*`, CR LF, backslashes in a list.
    Refused: the list beside the ROM gives another SHA-256 for it.
    Looks at: the line of the list.
    """
    pieces = [(case.sha256, case.candidate.contradictions)]
    for sha256, _standing in _companions(case):
        facts = case.asked.candidates.get(sha256)
        pieces.append((sha256, facts.contradictions if facts is not None else ()))
    return [_against(against, sha256) for sha256, against in pieces if against]


def _against(against: tuple[Contradiction, ...], sha256: str) -> Hit:
    evidence = tuple(
        Evidence(f"{one.place}:{one.line}", f"{one.algorithm} of {one.name}", None, None, one.want, one.have)
        for one in against
    )
    return Hit(f"A list gives another {against[0].algorithm} for {against[0].name}.", evidence, piece=sha256)


def _companions(case: Case) -> list[tuple[str, Standing | None]]:
    """The chosen companions, and how each is vouched for where that is known."""
    found: list[tuple[str, Standing | None]] = []
    for one in case.companions:
        if one.chosen is not None:
            facts = case.asked.candidates.get(one.chosen.sha256)
            known = standing(case.asked, case.wanted.role.name, facts) if facts is not None else None
            found.append((one.chosen.sha256, known))
    return found


def unvouched(case: Case) -> Iterable[Hit]:
    """A piece that is written to the card, and no one answers for its bytes.

    Fine: its digest stands in the family file, or in a list whose source a person recorded.
    Refused, until a person gives a word: firmware that only lies in two archives.
    Looks at: the ladder of vouching.
    """
    if not case.wanted.role.written:
        return ()
    hits: list[Hit] = []
    rungs: list[tuple[str, Standing | None]] = [(case.sha256, case.standing), *_companions(case)]
    for sha256, found in rungs:
        if found is None or found.rank > ENOUGH_TO_WRITE:
            rung = found.rung if found is not None else "none"
            place = Evidence(place_of(case.candidate), "vouch", None, None, "ran, named or signed", rung)
            known = "nothing vouches for its bytes" if rung == "none" else f"only {rung} vouches for its bytes"
            text = f"It would be written to the card, and {known}."
            hits.append(Hit(text, (place,), piece=sha256))
    return hits


def neighbour_only(case: Case) -> Iterator[Hit]:
    """A piece that is not written, vouched for only by a list in its own bundle or by an archive's CRC.

    Fine: the same bytes in two unrelated archives; a list whose source a person recorded.
    Refused: none; a utility with a list beside it earns a caution.
    Looks at: where the list lies.
    """
    if case.wanted.role.written:
        return
    beside = [(case.sha256, case.standing), *((sha256, one) for sha256, one in _companions(case) if one is not None)]
    only = [(sha256, one) for sha256, one in beside if one.rung == "neighbour"]
    if only:
        lists = tuple(dict.fromkeys(vouch.place or vouch.by for _, one in only for vouch in one.rests_on))
        evidence = tuple(Evidence(place, "vouch", None, None, "an outside source", "neighbour") for place in lists)
        yield Hit("Only what lies beside it vouches for its bytes.", evidence, piece=only[0][0])


def digest_weak(case: Case) -> Iterator[Hit]:
    """What vouches for the piece is MD5 or SHA-1 alone: it shows that a download arrived whole, not who made it.

    Fine: a SHA-256 of the same source beside the MD5.
    Refused: none; a maker's list of MD5 sums counts, and is noted.
    Looks at: the list's algorithm.
    """
    if case.standing.rung in ("named", "neighbour") and case.standing.weak:
        evidence = tuple(
            Evidence(one.place or one.by, "digest", None, None, "sha256", one.algorithm)
            for one in case.standing.rests_on
        )
        yield Hit("It is vouched for by a weak digest only.", evidence)


def same_version_two_contents(case: Case) -> Iterable[Hit]:
    """Two different contents claim one version, and no one names either.

    Fine: one of the two is named by the family or a recorded list; they differ in padding alone (noted).
    Refused, until a person gives a word: two utilities of version 3.20 with different bytes.
    Looks at: the digests of what claims one version.
    """
    if case.version is None or case.standing.named:
        return ()
    key = case.known.key(case.version.name)
    same = case.fellows.unnamed.get(key, ())
    if len(same) < 2:
        return ()
    trimmed = case.fellows.trimmed[key]
    padding = len(trimmed) == 1 and None not in trimmed
    shown = (case.candidate, *[one for one in same[: _SHOWN + 1] if one.sha256 != case.sha256][:_SHOWN])
    evidence = tuple(Evidence(place_of(one), "sha256", None, None, case.version.name, one.sha256) for one in shown)
    say = "which differ in padding alone" if padding else "and nobody names any of them"
    text = f"{len(same)} contents claim version {case.version.name}, {say}."
    return (Hit(text, evidence, Weight.NOTE if padding else None),)


_SHOWN = 8

RULES: tuple[Rule[Case], ...] = (
    Rule(
        "contradicted", Weight.STOP, contradicted, "A list speaks against the bytes",
        "Fetch the piece and its list again, from their maker; do not use these bytes.", "R SEC.AUTHENTIC",
    ),
    Rule(
        "unvouched", Weight.CLEARABLE, unvouched, "No one answers for bytes that are written",
        "Record the maker's checksum list with its source, or give a word with a reason.", "T IMG.NON_AUTH",
    ),
    Rule(
        "neighbour-only", Weight.CAUTION, neighbour_only, "Vouched for from beside only",
        "Compare its digest with one from the maker's own page and record that list.", "TUF",
    ),
    Rule(
        "digest-weak", Weight.NOTE, digest_weak, "Vouched for by MD5 or SHA-1 alone",
        "Record a SHA-256 list where the maker gives one.", "FIPS 180-4",
    ),
    Rule(
        "same-version-two-contents", Weight.CLEARABLE, same_version_two_contents, "Two contents of one version",
        "Compare the two, find out which is the maker's, and record its digest or give a word for it.",
        "CP", among=True,
    ),
)  # fmt: skip
