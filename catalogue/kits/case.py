"""One near piece in one role, with all that the rules look at worked out once.

Decisions on sentences of the contract:
- A digest that stands in an entry gives that entry's version, whatever the bytes say ("not when a digest gives it").
- A role with a `version` pattern is read by that pattern alone. Without one, a layout's `version` field speaks, and the
  version resource of an EFI or Windows program; version-like strings of other bytes are candidates, never the version.
- A number in a layout's `version` field is taken as packed hex of the field's width, as `same` would spell it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from catalogue.families.model import Release
from catalogue.kits import age as ages
from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.companions import Companion, companions
from catalogue.kits.criteria import Answer, answers, asked_images, fit
from catalogue.kits.images import Image
from catalogue.kits.known import Bounds, Known, Version, named_by
from catalogue.kits.version_order import Key
from catalogue.kits.vouching import Standing, standing
from catalogue.shapes.reading import LayoutAnswer

_RESOURCE = "VERSIONINFO"
VERSIONED = ("efi-driver", "efi-application", "windows-program")
"""Kinds whose version resource states their version."""


@dataclass(slots=True, eq=False)
class Fellows:
    """What fits a role, filled in once all its near pieces were looked at alone.

    `unnamed`: by version, the pieces that nobody named; `trimmed`: the digests of these without padding. `versions`
    and `releases` are those held.
    """

    unnamed: dict[Key, list[Candidate]] = field(default_factory=dict)
    trimmed: dict[Key, set[str | None]] = field(default_factory=dict)
    versions: set[Key] = field(default_factory=set)
    releases: set[str] = field(default_factory=set)


@dataclass(slots=True, eq=False)
class Case:
    """One near piece in one role; `bounds` are those of the release that is tried, `fellows` what else fits.
    `unread`: its criteria could not be asked.

    Thousands are made for one kit, so it is not frozen; nothing changes one once it is made.
    """

    asked: Asked
    wanted: Wanted
    candidate: Candidate
    images: tuple[Image, ...]
    answers: tuple[Answer, ...]
    fit: str
    version: Version | None
    standing: Standing
    claiming: tuple[Release, ...]
    companions: tuple[Companion, ...]
    fellows: Fellows
    bounds: Bounds | None = None
    unread: bool = False

    def under(self, bounds: Bounds) -> Case:
        """The same case with the bounds of the release that is tried."""
        return Case(
            self.asked,
            self.wanted,
            self.candidate,
            self.images,
            self.answers,
            self.fit,
            self.version,
            self.standing,
            self.claiming,
            self.companions,
            self.fellows,
            bounds,
            self.unread,
        )

    @property
    def known(self) -> Known:
        """What the family knows of the role."""
        return self.wanted.known

    @property
    def sha256(self) -> str:
        """The piece."""
        return self.candidate.sha256

    @property
    def age(self) -> str:
        """current, stale, withdrawn or unknown."""
        return ages.age(self.known, self.sha256, self.version)

    @property
    def layout(self) -> LayoutAnswer | None:
        """How the piece stands to the role's layout."""
        return self.candidate.layouts.get(self.wanted.layout.name) if self.wanted.layout is not None else None

    @property
    def version_key(self) -> Key | None:
        """The version as its order compares it."""
        return None if self.version is None else self.known.key(self.version.name)

    def needed_images(self) -> tuple[Image, ...]:
        """The images this role takes: those that name the wanted card, else all of its code type."""
        right = asked_images(self.wanted, self.images)
        named = [one for one in right if one.cards & self.wanted.cards]
        return tuple(named) if 0 < len(named) < len(right) else right


def case_of(asked: Asked, wanted: Wanted, candidate: Candidate, images: tuple[Image, ...], fellows: Fellows) -> Case:
    """`candidate` in the role `wanted`, beside `fellows`."""
    found = answers(asked, wanted, candidate, images)
    version = version_of(wanted, candidate)
    return Case(
        asked=asked,
        wanted=wanted,
        candidate=candidate,
        images=images,
        answers=found,
        fit=fit(wanted, found),
        version=version,
        standing=standing(asked, wanted.role.name, candidate),
        claiming=wanted.known.claiming(candidate.sha256, version),
        companions=companions(asked, wanted, candidate) if wanted.companions else (),
        fellows=fellows,
    )


def version_of(wanted: Wanted, candidate: Candidate) -> Version | None:
    """The piece's version in this role, or None where nothing states it."""
    known, role = wanted.known, wanted.role
    for release in known.digests.get(candidate.sha256, ()):
        names = named_by(release.claims[role.name])
        if names:
            return Version(names[0], known.name_of(names[0]), f"digest in release {release.name}")
    if role.version is not None:
        match = candidate.matches.get(role.version)
        if match is None or not match.value:
            return None
        return Version(match.value, known.name_of(match.value), role.version, match.offset)
    if wanted.layout is not None:
        answer = candidate.layouts.get(wanted.layout.name)
        found = next((one for one in answer.fields if one.name == "version"), None) if answer is not None else None
        if found is not None and answer is not None and answer.state == "fits" and "version" not in answer.empty:
            text = f"{found.value:0{2 * found.length}X}" if isinstance(found.value, int) else str(found.value)
            return Version(text, known.name_of(text), "layout field version", found.offset)
        return None
    resource = (one for one in candidate.reading.versions if one.source.startswith(_RESOURCE))
    if known.speaks_of_versions and candidate.kind in VERSIONED and (claim_read := next(resource, None)) is not None:
        return Version(claim_read.value, known.name_of(claim_read.value), claim_read.source, claim_read.offset)
    return None
