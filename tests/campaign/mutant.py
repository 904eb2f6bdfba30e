"""A mutant: real bytes with one fault, where they lie, and the code that the kit must raise for them."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from tests.campaign.grounds import Ground

EMPTY = ("role-empty", "left-out")
"""What a kit says of a role that nothing is near: a stop where it is needed, a note where it may stay empty."""
SPARED = "spared"
"""No code: what was done to the archive left the piece's own bytes as they were, and only those were taken."""
CONTAINERS = ("plain", "zip", "deflated zip", "tar.gz", "zip in zip")


@dataclass(frozen=True, slots=True)
class Planted:
    """What a class of fault makes of a role.

    `files` lie in the container by their names; `piece` is the mutant among them. `want`: the codes of which one must
    be raised. `near` False: the bytes no longer show that they are for the role, so an unpinned mutant leaves it empty.
    `damage` is done to the outermost archive's bytes: then whatever fills the role must be the sound bytes.
    """

    files: Mapping[str, bytes]
    piece: bytes
    want: tuple[str, ...]
    near: bool = True
    again: tuple[tuple[str, bytes], ...] = ()
    damage: Callable[[bytes], bytes] | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class FaultClass:
    """One row of the table.

    `plant` makes a mutant of a role, None where the class has no meaning there. `varied`: every draw gives other bytes,
    so that the class is worth planting again. `named`: also planted with a recorded source that names the bytes, so
    that nothing but the class's own rule can stop them. `pinned`: also planted as a person's pin.
    """

    group: str
    name: str
    plant: Callable[[Ground, str, random.Random], Planted | None]
    varied: bool = True
    named: bool = True
    pinned: bool = True
    containers: tuple[str, ...] = CONTAINERS


@dataclass(frozen=True, slots=True)
class Recipe:
    """All that is needed to plant a mutant again."""

    ground: str
    role: str
    fault: str
    container: str
    named: bool
    pinned: bool
    seed: int

    def __str__(self) -> str:
        ways = f"{'named ' if self.named else ''}{'pinned ' if self.pinned else ''}"
        return f"{self.ground} / {self.role} / {self.fault} / {ways}{self.container} / {self.seed}"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a mutant. `codes`: what was raised against it or its role."""

    recipe: Recipe
    verdict: str
    taken: bool
    want: tuple[str, ...]
    codes: tuple[str, ...]
    note: str = ""
    said: Mapping[str, object] = field(default_factory=dict)

    @property
    def ready(self) -> bool:
        """The worst: a ready kit with the mutant in it."""
        return self.verdict == "ready" and self.taken

    @property
    def hit(self) -> bool:
        """Whether the named code was raised, and the mutant did not come through."""
        return not self.ready and any(code in self.want for code in self.codes)
