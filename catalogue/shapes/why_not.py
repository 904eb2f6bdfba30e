"""Why a piece was not chosen for a role: what each criterion says of it, what stops it, what it lost to."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.shapes.finding import Evidence, Finding


@dataclass(frozen=True, slots=True)
class Asking:
    """One question put to a piece. `says` is yes, no or silent; `evidence` shows the bytes or the line that made it."""

    what: str
    says: str
    text: str
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True)
class WhyNot:
    """`stands`: chosen, candidate, waiting, miss, or not-near. `why` are the codes of the kit's `others`.

    `text` answers in one or two sentences. `than` are the pieces that it lost to or ties with. `nearness` are the
    questions that make a piece near; `fit` those that the role's criteria put to it. `stops` still stop it.
    """

    role: str
    piece: str
    name: str
    stands: str
    text: str
    why: tuple[str, ...] = ()
    than: tuple[str, ...] = ()
    version: str | None = None
    version_source: str = ""
    vouch: str = "none"
    nearness: tuple[Asking, ...] = ()
    fit: tuple[Asking, ...] = ()
    stops: tuple[Finding, ...] = ()
