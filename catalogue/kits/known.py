"""What a family knows of one role's versions and digests, and which of its releases claim a piece.

Decisions on sentences of the contract:
- "Known versions are all `version`, `same` and withdrawn ones": a piece whose own digest stands in a release's entry
  for the role is known by that, whatever version its bytes name. Bounds never make a version known, open ones least.
- "`[[withdrawn]]` digests name nothing": a digest that stands only under `[[withdrawn]]` is no vouch. One that a
  release lists too stays named by that release, and is stopped by `withdrawn`.
- A version is worn in many forms. A form that stands under `same` is that release's version (packed hex with or without
  0x and h); all else is equal as the order says.
- For the order `listed` the releases are the list, oldest date first.
- An entry that says nothing at all of a role claims nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from catalogue.families.model import Claim, Family, Release, Role, Withdrawn
from catalogue.kits.version_order import Key, Order, numeric_key, order

_HEX = re.compile(r"(?:0x)?([0-9a-f]+)h?")


@dataclass(frozen=True, slots=True)
class Version:
    """A version as read (`text`), as the family spells it (`name`), and what gave it (`source`, `offset`)."""

    text: str
    name: str
    source: str
    offset: int | None = None


@dataclass(frozen=True, slots=True)
class Bounds:
    """The versions of a role that a release takes, both ends included; None where it is open."""

    release: str
    least: str | None
    most: str | None


@dataclass(frozen=True, slots=True)
class Known:
    """What a family knows of one role.

    `listing` are the releases that list it, newest first; `latest` is the newest of them that is not withdrawn whole.
    `digests` maps those of their entries to the releases. `forms` maps `same` forms to the version they stand for.
    `newest` is the highest version that is not withdrawn, `top` the highest of all. `speaks_of_versions` says whether
    role or release mention versions at all. `called` maps the key of every known version to its name.
    """

    role: Role
    order: Order
    listing: tuple[Release, ...]
    digests: Mapping[str, tuple[Release, ...]]
    withdrawn: tuple[Withdrawn, ...]
    forms: Mapping[Key, str]
    latest: Release | None
    newest: str | None
    top: str | None
    speaks_of_versions: bool
    called: Mapping[Key, str]
    _keys: dict[str, Key] = field(default_factory=dict)
    _claiming: dict[str, tuple[Release, ...]] = field(default_factory=dict)

    def name_of(self, version: str) -> str:
        """The version as the family spells it, where `version` is one of its `same` forms; else as it stands."""
        return self.forms.get(_form(version), version)

    def key(self, version: str) -> Key:
        """What `version` compares by, whatever form it wears."""
        found = self._keys.get(version)
        if found is None:
            found = self._keys[version] = self.order.key(self.name_of(version))
        return found

    def same(self, one: str, other: str) -> bool:
        """Whether both are one version, whatever form they wear."""
        return self.key(one) == self.key(other)

    def compare(self, one: str, other: str) -> int:
        """Below, equal to or above 0, as `one` is older than, the same as or newer than `other`."""
        mine, theirs = self.key(one), self.key(other)
        return (mine > theirs) - (mine < theirs)

    def claims(self, release: Release, sha256: str, version: Version | None) -> bool:
        """Whether `release` claims the piece for this role: by digest, else by version, else by bounds."""
        claim = release.claims.get(self.role.name)
        if claim is None:
            return False
        if claim.sha256:
            return any(one is release for one in self.digests.get(sha256, ()))
        if version is None:
            return False
        if claim.version is not None or claim.same:
            return any(self.same(version.name, form) for form in named_by(claim))
        if claim.least is None and claim.most is None:
            return False
        return self.order.speaks_of(version.name) and self.side(_bounds(release, claim), version) == 0

    def claiming(self, sha256: str, version: Version | None) -> tuple[Release, ...]:
        """The releases that claim the piece for this role, newest first."""
        if sha256 in self.digests:
            return tuple(one for one in self.listing if self.claims(one, sha256, version))
        if version is None:
            return ()
        found = self._claiming.get(version.name)
        if found is None:  # without a digest nothing but the version counts
            found = tuple(one for one in self.listing if self.claims(one, sha256, version))
            self._claiming[version.name] = found
        return found

    def bounds(self, release: Release | None) -> Bounds | None:
        """The bounds of `release`, or, where it does not list the role, of the newest release that does."""
        if release is None or self.role.name not in release.claims:
            release = self.listing[0] if self.listing else None
        if release is None:
            return None
        found = _bounds(release, release.claims[self.role.name])
        return None if found.least is None and found.most is None else found

    def side(self, bounds: Bounds, version: Version) -> int:
        """-1 below the bounds, 1 above them, else 0."""
        if bounds.least is not None and self.compare(version.name, bounds.least) < 0:
            return -1
        if bounds.most is not None and self.compare(version.name, bounds.most) > 0:
            return 1
        return 0

    def taken_back(self, sha256: str, version: Version | None) -> tuple[Withdrawn, ...]:
        """The withdrawals that mean this piece, by its digest or its version."""
        if not self.withdrawn:
            return ()
        return tuple(
            one
            for one in self.withdrawn
            if (one.sha256 is not None and one.sha256.lower() == sha256)
            or (one.version is not None and version is not None and self.same(version.name, one.version))
        )

    def is_beyond(self, sha256: str, version: Version | None) -> bool:
        """Whether the piece's version is above all that the family knows of."""
        if version is None or self.top is None or sha256 in self.digests:
            return False
        return self.order.speaks_of(version.name) and self.compare(version.name, self.top) > 0


@lru_cache(maxsize=65_536)
def _form(version: str) -> Key:
    """What two spellings of one `same` form have in common."""
    text = version.strip().lower()
    packed = _HEX.fullmatch(text)
    return numeric_key(packed[1] if packed else text)


def named_by(claim: Claim) -> tuple[str, ...]:
    """The forms of a claim's version, the one it goes by first: `version`, else a form with dots, else the first."""
    if claim.version is not None:
        return claim.version, *claim.same
    return tuple(sorted(claim.same, key=lambda one: "." not in one))


def _bounds(release: Release, claim: Claim) -> Bounds:
    return Bounds(release.name, claim.least, claim.most)


def newest_first(releases: Iterable[Release]) -> tuple[Release, ...]:
    """Releases by date, newest first; those of one day in the order of the file."""
    return tuple(sorted(releases, key=lambda one: one.date, reverse=True))


def know(family: Family, role: Role) -> Known:
    """What `family` knows of `role`."""
    listing = tuple(one for one in newest_first(family.releases) if role.name in one.claims)
    claims = [one.claims[role.name] for one in listing]
    withdrawn = tuple(one for one in family.withdrawn if one.role == role.name)
    forms: dict[Key, str] = {}
    digests: dict[str, tuple[Release, ...]] = {}
    for release, claim in zip(listing, claims, strict=True):
        for digest in claim.sha256:
            digests[digest.lower()] = (*digests.get(digest.lower(), ()), release)
        for form in claim.same:
            forms.setdefault(_form(form), named_by(claim)[0])
    released = [names[0] for one in claims if (names := named_by(one))]
    by = order(role.order or family.order, tuple(dict.fromkeys(released))[::-1])
    back = [one.version for one in withdrawn if one.version is not None]
    sound = [one for one in released if not any(by.same(one, forms.get(_form(other), other)) for other in back)]
    bad = {one.sha256.lower() for one in withdrawn if one.sha256 is not None}
    latest = next((one for one, claim in zip(listing, claims, strict=True) if _stands(claim, sound, bad)), None)
    worn = [forms.get(_form(one), one) for one in (*released, *back)]
    return Known(
        role=role,
        order=by,
        listing=listing,
        digests=digests,
        withdrawn=withdrawn,
        forms=forms,
        latest=latest,
        newest=_highest(by, sound),
        top=_highest(by, worn),
        speaks_of_versions=role.version is not None
        or role.lowest is not None
        or any(named_by(one) or one.least is not None or one.most is not None for one in claims),
        called={by.key(one): one for one in reversed(worn)},
    )


def _stands(claim: Claim, sound: list[str], bad: set[str]) -> bool:
    """Whether something of `claim` is not withdrawn."""
    if claim.sha256 and all(one.lower() in bad for one in claim.sha256):
        return False
    names = named_by(claim)
    return not names or names[0] in sound


def _highest(by: Order, versions: Iterable[str]) -> str | None:
    return max(versions, key=by.key, default=None)
