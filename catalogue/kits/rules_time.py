"""Rules on versions and releases: what is old, taken back, unknown or too new to be true.

Decisions on sentences of the contract:
- `release-unknown` is silent where no release lists the role: then no piece could be in one (`not-taught` says so).
- `stale` says that a newer one is held where a piece that fits the role has that version, whatever its vouching.
"""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.families.model import Withdrawn
from catalogue.kits.case import Case
from catalogue.kits.criteria import place_of
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.kits.rules_host import below_esrt
from catalogue.shapes.finding import Evidence


def version_unread(case: Case) -> Iterator[Hit]:
    """Nothing states the piece's version, or the family's order cannot place it: nothing can be said of its age.

    Fine: a piece whose digest gives its version; a role of which neither family nor release knows versions.
    Refused: none; firmware without the string that the role's `version` looks for earns a caution, and so does version
    8.9 where the order is semver.
    Looks at: the sources that were tried.
    """
    if not case.known.speaks_of_versions:
        return
    version = case.version
    if version is not None:
        if not case.known.order.speaks_of(version.name):
            order = case.known.order.name
            yield Hit(
                f"Its version {version.name} cannot be placed in the family's order of versions ({order}).",
                (Evidence(place_of(case.candidate), "version", version.offset, None, order, version.text),),
            )
        return
    role = case.wanted.role
    tried = role.version or ("layout field version" if case.wanted.layout is not None else "version resource")
    yield Hit("No version is found in it.", (Evidence(place_of(case.candidate), "version", None, None, tried, ""),))


def release_unknown(case: Case) -> Iterator[Hit]:
    """The piece is in no release that the family knows.

    Fine: a version within a release's bounds; a role that no release lists.
    Refused: none; firmware of a version between two releases earns a caution.
    Looks at: the digest and the version, the family's releases.
    """
    if case.known.listing and not case.claiming:
        releases = ", ".join(one.name for one in case.known.listing)
        have = case.version.name if case.version is not None else case.sha256
        place = Evidence(place_of(case.candidate), "release", None, None, releases, have)
        yield Hit("It is in no release that the family knows.", (place,))


def below_lowest(case: Case) -> Iterator[Hit]:
    """The piece is under the lowest version the family allows for the role, or the machine's saved ESRT.

    Fine: the lowest version itself, in any form.
    Refused: firmware 8.99 where the lowest is 9.00.0; a capsule under the ESRT's lowest supported version.
    Looks at: the version, the family's lowest, the saved ESRT.
    """
    yield from below_esrt(case)
    role, version = case.wanted.role, case.version
    if role.lowest is None or version is None or not case.known.order.speaks_of(version.name):
        return
    if case.known.compare(version.name, role.lowest) < 0:
        line = case.asked.line(f"role.{role.name}.lowest", f"role.{role.name}")
        yield Hit(
            f"It is version {version.name}, under {role.lowest}, the lowest for this role.",
            (
                Evidence(place_of(case.candidate), "version", version.offset, None, role.lowest, version.text),
                Evidence(line, "lowest", None, None, role.lowest, version.name),
            ),
        )


def stale(case: Case) -> Iterator[Hit]:
    """The family knows a newer one; says whether it is held.

    Fine: the newest is withdrawn, and this is the newest that is not.
    Refused: none; firmware 11 where release twelve has 12.04.0 earns a caution.
    Looks at: the version, the family's releases.
    """
    if case.age != "stale":
        return
    known = case.known
    latest = known.latest
    newest = known.newest or ""
    if case.version is None or known.newest is None or known.compare(case.version.name, newest) >= 0:
        newest = f"release {latest.name}" if latest is not None else ""
        held = latest is not None and latest.name in case.fellows.releases
    else:
        newest = f"version {known.newest}"
        held = known.key(known.newest) in case.fellows.versions
    have = case.version.name if case.version is not None else ", ".join(one.name for one in case.claiming)
    say = "and lies in the catalogue" if held else "and is not in the catalogue"
    place = Evidence(place_of(case.candidate), "version", None, None, newest, have)
    yield Hit(f"A newer one is known ({newest}) {say}.", (place,))


def withdrawn(case: Case) -> Iterator[Hit]:
    """The maker took this version, or these bytes, back; those of the piece or, by their digest, of its companion.

    Fine: the version after the withdrawn one.
    Refused, until a person gives a word: firmware 12.02.0, which drops its link.
    Looks at: the version or the digest, the family's withdrawn entries.
    """
    version = case.version.text if case.version is not None else ""
    for one in case.known.taken_back(case.sha256, case.version):
        what = f"version {one.version}" if one.version is not None else "these bytes"
        seen = Evidence(place_of(case.candidate), "version", None, None, "", version)
        yield Hit(f"Its maker took {what} back: {one.why} ({one.source}).", (_withdrawal(case, one), seen))
    for companion in case.companions:
        chosen = companion.chosen
        for one in case.known.taken_back(chosen.sha256, None) if chosen is not None else ():
            text = f"Its maker took these bytes of {companion.name} back: {one.why} ({one.source})."
            yield Hit(text, (_withdrawal(case, one),), piece=chosen.sha256 if chosen is not None else None)


def _withdrawal(case: Case, one: Withdrawn) -> Evidence:
    line = case.asked.line(f"withdrawn[{case.asked.family.withdrawn.index(one)}]")
    return Evidence(line, "withdrawn", None, None, "", one.version or one.sha256 or "")


def beyond_known(case: Case) -> Iterator[Hit]:
    """The version is above all that the family knows: a wrong or forged number would look like this.

    Fine: a family that knows no versions of the role; a piece whose digest stands in a release.
    Refused: none; version 99 earns a caution, and is chosen by a pin only.
    Looks at: the version, all that the family knows.
    """
    if case.version is not None and case.known.is_beyond(case.sha256, case.version):
        top = case.known.top or ""
        version = case.version
        place = Evidence(place_of(case.candidate), "version", version.offset, None, f"at most {top}", version.text)
        yield Hit(f"It is version {version.name}; the highest that the family knows is {top}.", (place,))


def older_than_card(case: Case) -> Iterator[Hit]:
    """The piece is older than what the card runs: a conversion may need that, but it should be meant.

    Fine: the same version, or a newer one.
    Refused: none; firmware 12.04.0 for a card that runs 12.05.0 earns a caution.
    Looks at: the version, the saved listing.
    """
    role, version = case.wanted.role, case.version
    if not role.written or version is None or not case.known.order.speaks_of(version.name):
        return
    for card in case.asked.cards:
        runs = card.versions.get(role.name)
        if runs is None or not case.known.order.speaks_of(runs.text):
            continue
        if case.known.compare(version.name, runs.text) < 0:
            yield Hit(
                f"It is version {version.name}; the card runs {runs.text}.",
                (
                    Evidence(place_of(case.candidate), "version", version.offset, None, "", version.text),
                    Evidence(runs.place, "version", None, None, "", runs.text),
                ),
            )
            return


RULES: tuple[Rule[Case], ...] = (
    Rule(
        "version-unread", Weight.CAUTION, version_unread, "No version is found",
        "Check by other means which version it is.", "CP",
    ),
    Rule(
        "release-unknown", Weight.CAUTION, release_unknown, "In no known release",
        "Use a piece of a known release, or add the release to the family file.", "R USE.IMG.VERSIONS",
    ),
    Rule(
        "below-lowest", Weight.STOP, below_lowest, "Under the lowest version allowed",
        "Fetch a version at or above the lowest.", "UEFI ESRT",
    ),
    Rule(
        "stale", Weight.CAUTION, stale, "A newer one is known",
        "Use the newer one unless there is a reason not to.", "TUF", among=True,
    ),
    Rule(
        "withdrawn", Weight.CLEARABLE, withdrawn, "Taken back by its maker",
        "Use a version that is not withdrawn, or give a word with a reason.", "T IMG.EXPIRED",
    ),
    Rule(
        "beyond-known", Weight.CAUTION, beyond_known, "A version beyond all known",
        "Check with the maker that this version exists, and add its release to the family file.", "TUF",
    ),
    Rule(
        "older-than-card", Weight.CAUTION, older_than_card, "Older than what the card runs",
        "Go back only where the route needs it; else take a version at least as new.", "T IMG.EXPIRED",
    ),
)  # fmt: skip
