"""Rules on how each role of the kit came to be filled, or not. See `kit_rules` for what was decided."""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.families.model import Release
from catalogue.kits.choose import Pick
from catalogue.kits.criteria import place_of
from catalogue.kits.kit_case import KitCase
from catalogue.kits.others import why_not
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.kits.weigh import Status, Weighed
from catalogue.kits.words import AMBIGUOUS
from catalogue.shapes.finding import Evidence

_MOST_NAMED = 20


def role_empty(case: KitCase) -> Iterator[Hit]:
    """No piece fills a needed role.

    Fine: every needed role has a piece, if need be one that waits for a word.
    Refused: a folder without firmware for the wanted mode.
    Looks at: what came near and missed, the role's line in the family file.
    """
    for pick in case.picks:
        if pick.chosen is None and pick.wanted.needed and not pick.tied and not pick.pins:
            line = Evidence(case.role_line(pick.role), "role", None, None, pick.role, "empty")
            near = f"{len(pick.near)} came near" if pick.near else "nothing came near"
            yield Hit(f"No piece fills the needed role {pick.role}; {near}.", (*_near(pick), line), role=pick.role)


def _near(pick: Pick) -> tuple[Evidence, ...]:
    """The near pieces of an empty role and why each missed, the nearest first."""
    tied = pick.tied_pieces
    nearest = sorted(pick.near, key=lambda one: (len(one.stops), one.sha256))
    return tuple(
        Evidence(place_of(one.case.candidate), "missed by", None, None, pick.role, ", ".join(why_not(pick, one, tied)))
        for one in nearest[:_MOST_NAMED]
    )


def left_out(case: KitCase) -> Iterator[Hit]:
    """An optional role stays empty.

    Fine: an optional role with a piece.
    Refused: none; a kit without a legacy boot ROM is noted, with what came near.
    Looks at: what came near, the role's line in the family file.
    """
    for pick in case.picks:
        if pick.chosen is None and not pick.wanted.needed:
            steps = [one.name for one in case.asked.route.steps if f"{{{pick.role}}}" in one.adds]
            lost = f"; step {', '.join(steps)} goes without it" if steps else ""
            tie = " because its best candidates tie" if pick.tied else ""
            line = Evidence(case.role_line(pick.role), "role", None, None, pick.role, "left out")
            yield Hit(f"The optional role {pick.role} is left out{tie}{lost}.", (*_near(pick), line), role=pick.role)


def ambiguous(case: KitCase) -> Iterator[Hit]:
    """The best candidates of a role tie, and nothing but a person can tell which is meant.

    Fine: contents that differ in padding alone; a tie in an optional role, which is left out.
    Refused, until a word or a pin picks: two EEPROM images that both fit, neither named.
    Looks at: the digests of the best candidates.
    """
    for pick in case.picks:
        yield from _tie(case, pick)
        if pick.chosen is not None:
            yield from _companion_tie(case, pick, pick.chosen)


def _tie(case: KitCase, pick: Pick) -> Iterator[Hit]:
    if len(pick.tied) < 2 or not (pick.wanted.needed or pick.by_word):
        return
    evidence = tuple(
        Evidence(place_of(one.case.candidate), "sha256", None, None, "one", one.sha256)
        for one in pick.tied[:_MOST_NAMED]
    )
    worded = [one for one in pick.tied if case.words.get(AMBIGUOUS, one.sha256) is not None]
    for one in (pick.chosen,) if pick.chosen is not None else pick.tied:
        if pick.chosen is None and len(worded) > 1:
            text = f"Words pick {len(worded)} of the {len(pick.tied)} pieces that tie for {pick.role}."
            yield Hit(text, evidence, Weight.STOP, pick.role, one.sha256)
        else:
            text = f"{len(pick.tied)} pieces tie for {pick.role}, and nothing tells them apart."
            yield Hit(text, evidence, None, pick.role, one.sha256)


def _companion_tie(case: KitCase, pick: Pick, chosen: Weighed) -> Iterator[Hit]:
    """A utility that lies in several places, beside differing contents of one companion's name."""
    for companion in chosen.case.companions:
        contents = {one.sha256: one for one in chosen.case.candidate.beside if one.name == companion.name.lower()}
        if len(companion.found) > 1:
            tied = [one.sha256 for one in companion.found]
        elif companion.chosen is not None and case.words.get(AMBIGUOUS, companion.chosen.sha256) and len(contents) > 1:
            tied = [companion.chosen.sha256]
        else:
            continue
        place = f"beside {place_of(chosen.case.candidate)}"
        evidence = tuple(Evidence(place, companion.name, None, None, "one", one) for one in sorted(contents))
        text = f"{len(contents)} contents of the name {companion.name} lie beside the piece for {pick.role}."
        worded = sum(case.words.get(AMBIGUOUS, one) is not None for one in tied) > 1
        for sha256 in tied:
            remedy = "Find out which of them is meant, and give the word ambiguous for it; a pin is for the utility."
            yield Hit(text, evidence, Weight.STOP if worded else None, pick.role, sha256, remedy)


def pin_broken(case: KitCase) -> Iterator[Hit]:
    """The pinned bytes are gone, or something that no word clears stops them.

    Fine: a pinned piece that a word can still clear.
    Refused: a pin on the other mode's boot ROM; a pin on a file that was deleted.
    Looks at: the pin.
    """
    for role, pins in case.asked.pins.items():
        pick = next((one for one in case.picks if one.role == role), None)
        pin = pins[0]
        line = Evidence(f"pin {role}={pin.sha256}", "pin", None, None, pin.sha256, "")
        if pick is None:
            yield Hit(f"The route has no role {role}.", (line,), role=role, piece=pin.sha256)
        elif len({one.sha256 for one in pins}) > 1:
            both = tuple(Evidence(f"pin {role}={one.sha256}", "pin", None, None, "one", one.sha256) for one in pins)
            yield Hit(f"Two pins name different pieces for {role}.", both, role=role, piece=pin.sha256)
        elif pick.chosen is None:
            yield Hit(f"The piece pinned for {role} is gone.", (line,), role=role, piece=pin.sha256)
        elif pick.chosen.status is Status.MISS:
            stops = ", ".join(sorted({one.code for one in pick.chosen.stops if not one.clearable}))
            place = Evidence(place_of(pick.chosen.case.candidate), "pin", None, None, role, stops)
            yield Hit(f"The piece pinned for {role} is stopped ({stops}).", (place,), role=role, piece=pin.sha256)


def mixed_release(case: KitCase) -> Iterator[Hit]:
    """Two chosen pieces are of different releases that do not belong together.

    Fine: version strings merely unlike; a piece of a role that the other's release does not list; one in no release.
    Refused, where a release says mix = "stop": firmware of release twelve with a boot ROM of release eleven.
    Looks at: the family's releases.
    """
    chosen = [(pick, pick.chosen) for pick in case.picks if pick.chosen is not None and pick.chosen.case.claiming]
    for place, (pick, one) in enumerate(chosen):
        newer = [
            (other_pick, other)
            for other_place, (other_pick, other) in enumerate(chosen)
            if other.sha256 != one.sha256
            and _age(one, place) < _age(other, other_place)
            and not _together(case, (pick, one), (other_pick, other))
        ]
        if newer:
            yield _mixed(case, pick, one, newer)


def _age(one: Weighed, place: int) -> tuple[int, int]:
    """The older, the lower: by the newest release that claims it, then by the role's place in the route."""
    return one.case.claiming[0].date.toordinal(), -place


def _together(case: KitCase, one: tuple[Pick, Weighed], other: tuple[Pick, Weighed]) -> bool:
    def takes(release: Release, pick: Pick, weighed: Weighed) -> bool:
        return pick.role not in release.claims or release in weighed.case.claiming

    releases = dict.fromkeys(release.name for _, weighed in (one, other) for release in weighed.case.claiming)
    named = [release for release in case.asked.family.releases if release.name in releases]
    return any(takes(release, *one) and takes(release, *other) for release in named)


def _mixed(case: KitCase, pick: Pick, one: Weighed, newer: list[tuple[Pick, Weighed]]) -> Hit:
    releases = [release for weighed in (one, *(other for _, other in newer)) for release in weighed.case.claiming]
    weight = None if any(release.mix == "stop" for release in releases) else Weight.CAUTION
    mine, theirs = one.case.claiming[0].name, newer[0][1].case.claiming[0].name
    evidence = [
        Evidence(case.asked.release_line(weighed.case.claiming[0].name, its.role), "release", None, None, "one release",
                 f"{its.role}: {', '.join(release.name for release in weighed.case.claiming)}")
        for its, weighed in ((pick, one), *newer)
    ]  # fmt: skip
    others = ", ".join(its.role for its, _ in newer)
    text = f"The piece for {pick.role} is of release {mine}, that for {others} of release {theirs}."
    return Hit(text, tuple(evidence), weight, pick.role, one.sha256)


RULES: tuple[Rule[KitCase], ...] = (
    Rule(
        "role-empty", Weight.STOP, role_empty, "A needed role is empty",
        "Fetch the missing piece from its maker, put it into an intake folder and index it.", "R USE.MFST.COMPONENT",
    ),
    Rule(
        "left-out", Weight.NOTE, left_out, "An optional role is left out",
        "Nothing need be done; fetch the piece if the card is to have it.", "CP",
    ),
    Rule(
        "ambiguous", Weight.CLEARABLE, ambiguous, "The best candidates tie",
        "Find out which of them is meant, and pin it or give the word ambiguous for it.", "TUF",
    ),
    Rule(
        "pin-broken", Weight.STOP, pin_broken, "A pin cannot hold",
        "Take the pin away, or pin a piece that fits.", "T MFST.OVERRIDE",
    ),
    Rule(
        "mixed-release", Weight.CLEARABLE, mixed_release, "Pieces of different releases",
        "Use the pieces of one release together, or give a word if the maker says that these go together.",
        "TUF mix-and-match",
    ),
)  # fmt: skip
