"""A family file as values. The laws and the reading of TOML live beside this file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from catalogue.shapes.layout import Layout
from catalogue.shapes.results import FamilyChange, FileProblem

ANY_BENCH = "*"
"""Key of a role's kind or companions where the file gives one for every bench."""
ANY_MODE = "*"
"""Key of a role's `has` where the file gives one plain string."""


@dataclass(frozen=True, slots=True)
class IdPattern:
    """A PCI ID, with or without a subsystem (both parts or neither)."""

    vendor: int
    device: int
    subvendor: int | None = None
    subdevice: int | None = None


@dataclass(frozen=True, slots=True)
class Mode:
    """A way the card can run, with the IDs it then shows. `class_code` is 24 bits."""

    name: str
    ids: tuple[IdPattern, ...]
    class_code: int | None = None


@dataclass(frozen=True, slots=True)
class State:
    """What a card shows half-way, and the step after which it stands there."""

    name: str
    ids: tuple[IdPattern, ...]
    after: str


@dataclass(frozen=True, slots=True)
class Revision:
    """The label line of the board revision in a saved text, and the revisions allowed."""

    find: str
    allowed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """Facts of the card. `flash` is bytes; None where the file does not say."""

    controllers: int = 1
    flash: int | None = None
    revision: Revision | None = None


@dataclass(frozen=True, slots=True)
class Listing:
    """How a saved text divides into adapters: by a line that begins a block, or by columns."""

    block: str | None = None
    columns: bool = False


@dataclass(frozen=True, slots=True)
class Identity:
    """One thing that must survive. `kind` is sas-address, mac or text; `ouis` are 24-bit company IDs."""

    name: str
    kind: str
    ouis: tuple[int, ...] = ()
    span: int = 1
    find: str | None = None
    column: str | None = None
    typed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Role:
    """A job a piece does.

    `kind` by bench (or ANY_BENCH), empty where any piece will do. `ids` is "from", "to", or a tuple. `has` by mode
    (or ANY_MODE). `size` is (least, most). `companions` by bench (or ANY_BENCH). `decide` is a subset of hash, ids,
    has, layout.
    """

    name: str
    written: bool = False
    decide: tuple[str, ...] = ()
    kind: Mapping[str, str] = field(default_factory=dict)
    ids: str | tuple[IdPattern, ...] | None = None
    has: Mapping[str, str] = field(default_factory=dict)
    layout: str | None = None
    size: tuple[int, int] | None = None
    version: str | None = None
    lowest: str | None = None
    order: str | None = None
    companions: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Key:
    """A signer the family trusts; revoked on a date or not."""

    name: str
    certificate_sha256: str
    revoked: date | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """What a release says of one role; each part may be absent. `least` and `most` are the file's from and to."""

    version: str | None = None
    same: tuple[str, ...] = ()
    sha256: tuple[str, ...] = ()
    least: str | None = None
    most: str | None = None


@dataclass(frozen=True, slots=True)
class Release:
    """Pieces a maker published together. `mix` is stop or caution."""

    name: str
    date: date
    mix: str
    claims: Mapping[str, Claim] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A version (or digest) of a role that its maker took back, and why."""

    role: str
    version: str | None
    sha256: str | None
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Expects:
    """What the file a step makes must be; None or empty where nothing is said."""

    text: str | None = None
    size: int | None = None
    blank: bool | None = None
    holds: tuple[str, ...] = ()
    same_as: str | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a route. Effects name eeprom, flash, mode, slot or an identity."""

    name: str
    say: str
    type: str | None = None
    makes: str | None = None
    adds: tuple[str, ...] = ()
    learns: tuple[str, ...] = ()
    saves: tuple[str, ...] = ()
    destroys: tuple[str, ...] = ()
    writes: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    compares: tuple[str, ...] = ()
    then: str | None = None
    expects: Expects | None = None


@dataclass(frozen=True, slots=True)
class Route:
    """How a family goes from one mode to another on one bench (dos, uefi, linux or clip)."""

    id: str
    source_mode: str
    target_mode: str
    bench: str
    needs: tuple[str, ...]
    may: tuple[str, ...] = ()
    stepping_least: str | None = None
    care: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True)
class Drafted:
    """What a drafted file was made from: a known-good folder, or SHA-256s of pieces. One written by hand has none."""

    folder: str = ""
    pieces: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Family:
    """One card family.

    `file` and `sha256` are of the family file itself; `lines` maps a dotted path of the file (such as
    "role.firmware.has" or "release[0].firmware") to its line, for evidence. `problems` are errors and broken laws:
    a family with any is never settled. `settled` is also False until a person has accepted the file or we ship it.
    A variant (`extends`) also stands on its base's file: `base` are the SHA-256s of the files below it, nearest first,
    and `inherited` gives file and line of what it takes over; `families.where.place` looks into both;
    `changes` is what it says otherwise than its base. A file with
    `drafted` must show itself right by what it was drafted from before it is accepted (`tasks.prove_draft`).
    """

    id: str
    title: str
    file: str
    sha256: str
    as_of: date
    order: str
    card: Card = Card()
    extends: str | None = None
    subsystems: tuple[tuple[int, int], ...] = ()
    modes: Mapping[str, Mode] = field(default_factory=dict)
    states: Mapping[str, State] = field(default_factory=dict)
    listing: Listing | None = None
    identities: Mapping[str, Identity] = field(default_factory=dict)
    roles: Mapping[str, Role] = field(default_factory=dict)
    layouts: Mapping[str, Layout] = field(default_factory=dict)
    keys: tuple[Key, ...] = ()
    releases: tuple[Release, ...] = ()
    withdrawn: tuple[Withdrawn, ...] = ()
    routes: tuple[Route, ...] = ()
    lines: Mapping[str, int] = field(default_factory=dict)
    inherited: Mapping[str, tuple[str, int]] = field(default_factory=dict)
    base: tuple[str, ...] = ()
    changes: tuple[FamilyChange, ...] = ()
    drafted: Drafted | None = None
    problems: tuple[FileProblem, ...] = ()
    settled: bool = False
