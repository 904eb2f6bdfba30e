"""Changes that may clear what stops a kit, read from its findings. Whether one does, the judge says; see `mending`.

Nothing here weakens a family, hides a saved text, or asks a machine to check less: those would make a kit look ready.
A word is offered only for a finding that the judge calls clearable, of a piece that is here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from catalogue.families.model import Release
from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.names import readable
from catalogue.kits.own_identity import PREFIX
from catalogue.kits.supposed import NOT_HERE, Description, can_be_supplied, describe, in_words
from catalogue.shapes.finding import Finding, Level
from catalogue.shapes.kit import Kit, RoleChoice
from catalogue.shapes.mending import Change, ChangeKind

DAMAGED = frozenset({"rom-damaged", "archive-damaged", "contradicted", "signature-broken", "wrong-kind"})
"""What a download that went wrong looks like: the same thing fetched again may be sound."""
VOUCHED_AWAY = frozenset({"unvouched", "ambiguous", "same-version-two-contents"})
MOST_RELEASES = 4
MOST_PINS = 8
MOST_FETCHED = 4


def stops_of(kit: Kit) -> tuple[Finding, ...]:
    """What stops a kit."""
    return tuple(one for one in kit.findings if one.level is Level.STOP)


def moves(asked: Asked, question: Question, kit: Kit, role: str | None) -> Iterator[Change]:
    """What may clear the stops of `role` (None: of the kit as a whole), the safest first."""
    found = [one for one in stops_of(kit) if one.role == role]
    made = list(_of_the_kit(asked, question, found)) if role is None else list(_of_role(asked, kit, found, role))
    yield from sorted(dict.fromkeys(made), key=lambda one: one.kind.rank)


def _of_the_kit(asked: Asked, question: Question, found: Sequence[Finding]) -> Iterator[Change]:
    codes = {one.code for one in found}
    if "family-unsettled" in codes:
        problems = asked.family.problems
        mend = f"Mend the family file at the {len(problems)} places named, then check" if problems else "Read and check"
        text = f"{mend} {asked.family.file}, and accept it: whoever accepts it answers for it."
        yield Change(ChangeKind.SETTLE, text, code="family-unsettled", supposed=bool(problems))
    least = asked.route.stepping_least
    if "wrong-start" in codes and least is not None:
        text = f"Bring the card to version {least} by its maker's instructions, list it again, and give that listing."
        yield Change(ChangeKind.LISTING, text, code="wrong-start", wanted=(("version", least),), supposed=True)


def _of_role(asked: Asked, kit: Kit, found: Sequence[Finding], role: str) -> Iterator[Change]:
    """An empty role's near pieces are all stopped by what neither a word nor a source clears, so none is offered."""
    wanted = asked.wanted.get(role)
    choice = next((one for one in kit.roles if one.role == role), None)
    if asked.pins.get(role):
        text = f"Take the pin for {role} away, so that the program chooses."
        yield Change(ChangeKind.UNPIN, text, role=role)
    if wanted is None or choice is None:
        return
    yield from _fetched(asked, wanted, found)
    yield from _companions(asked, wanted, found)
    yield from _supplied(asked, wanted)
    empty = any(one.code == "role-empty" for one in found)
    for one in found:
        if not empty or one.code == "foreign-identity":
            yield from _of_finding(asked, wanted, one)
    yield from _pinned(asked, choice)
    if any(one.code == "mixed-release" for one in found):
        for other in kit.roles:
            if other.role != role and other.pieces:
                yield from _supplied(asked, asked.wanted[other.role])
                yield from _pinned(asked, other)


def _of_finding(asked: Asked, wanted: Wanted, one: Finding) -> Iterator[Change]:
    piece = asked.candidates.get(one.piece or "")
    if one.piece is None or _absent(piece):
        return
    name = readable(piece) if piece is not None else one.piece[:12]
    if one.code in VOUCHED_AWAY and piece is not None:
        text = f"Record a source that names {name}: its maker's list of digests, or a signature by its maker's key."
        yield Change(ChangeKind.VOUCH, text, wanted.role.name, piece.sha256, one.code)
    if one.code == "foreign-identity" and piece is not None and not asked.cards:
        yield from _own(asked, wanted, piece, name)
    if one.code in ("driver-unsigned", "driver-other-ca") and asked.host.destination.db is None:
        text = f"Give the destination's saved db, if it names the driver of {name} by its digest."
        yield Change(ChangeKind.HOST, text, wanted.role.name, one.piece, one.code, wanted=(("fact", "destination.db"),),
                     supposed=True)  # fmt: skip
    if one.code == "bench-refuses":
        yield from _benches(wanted, one, name)
    if one.clearable:
        text = (
            f"Give your word on {one.code} for {name}, with a reason and your name. It shows nothing new; it becomes a "
            "caution that goes with the kit."
        )
        yield Change(ChangeKind.WORD, text, wanted.role.name, one.piece, one.code)


def _absent(piece: Candidate | None) -> bool:
    """Whether it is a piece that was only supposed."""
    return piece is not None and any(place.path.startswith(NOT_HERE) for place in piece.places)


def _fetched(asked: Asked, wanted: Wanted, found: Sequence[Finding]) -> Iterator[Change]:
    damaged = dict.fromkeys(one.piece for one in found if one.code in DAMAGED and one.piece is not None)
    for sha256 in [one for one in damaged if one in asked.candidates][:MOST_FETCHED]:
        piece = asked.candidates[sha256]
        if _absent(piece) or _beside(asked, wanted, sha256):
            continue
        match = piece.matches.get(wanted.role.version or "")
        right = [one for one in piece.contradictions if one.algorithm.lower().replace("-", "") == "sha256"]
        digest = next((one.want.lower() for one in right if one.want.lower() not in asked.candidates), None)
        release = next((one for one in wanted.known.listing if can_be_supplied(asked, wanted, one)), None)
        made = describe(asked, wanted, None if match else release, match.value if match else None)
        if digest is not None:
            rest = tuple(one for one in made.wanted if one[0] != "SHA-256")
            made = Description((("SHA-256", digest), *rest), made.version, digest)
        text = f"Fetch {readable(piece)} again from its maker and index it. What should come: {in_words(made)}."
        yield Change(ChangeKind.FETCH, text, wanted.role.name, sha256, wanted=_kept(asked, made), supposed=True)


def _kept(asked: Asked, made: Description) -> tuple[tuple[str, str], ...]:
    """The description with the version, digest and route that it is judged by."""
    judged = (("as version", made.version), ("as SHA-256", made.sha256), ("as by route", asked.route.id))
    return (*made.wanted, *((what, which) for what, which in judged if which is not None))


def _supplied(asked: Asked, wanted: Wanted) -> Iterator[Change]:
    releases: Sequence[Release | None] = (*wanted.known.listing[:MOST_RELEASES], None)
    for release in releases:
        if can_be_supplied(asked, wanted, release):
            made = describe(asked, wanted, release)
            text = f"Get a piece for {wanted.role.name} from its maker and index it: {in_words(made)}."
            name = release.name if release is not None else None
            kept = _kept(asked, made)
            yield Change(ChangeKind.SUPPLY, text, wanted.role.name, release=name, wanted=kept, supposed=True)


def _beside(asked: Asked, wanted: Wanted, sha256: str) -> list[tuple[Candidate, str]]:
    """The pieces beside which this one lies under a companion's name."""
    names = {name.casefold() for name in wanted.companions}
    return [
        (piece, one.name)
        for piece in asked.candidates.values()
        for one in piece.beside
        if one.sha256 == sha256 and one.name.casefold() in names and piece.sha256 != sha256
    ]


def _companions(asked: Asked, wanted: Wanted, found: Sequence[Finding]) -> Iterator[Change]:
    """A companion that is missing or spoilt, laid anew beside its utility."""
    for one in found:
        if one.piece is None:
            continue
        if one.code == "companion-missing" and one.piece in asked.candidates:
            piece = asked.candidates[one.piece]
            held = {beside.name.casefold() for beside in piece.beside}
            lacking = [(piece, name) for name in wanted.companions if name.casefold() not in held]
        else:
            lacking = _beside(asked, wanted, one.piece)
        for piece, name in lacking:
            if _absent(piece):
                continue
            again = "again " if one.code != "companion-missing" else ""
            vouched = " It is written to the card, so record who vouches for it." if wanted.role.written else ""
            text = f"Lay {name} {again}beside {readable(piece)}, as its maker packed it, and index the folder.{vouched}"
            kind = ChangeKind.FETCH if again else ChangeKind.SUPPLY
            yield Change(kind, text, wanted.role.name, piece.sha256, wanted=(("companion", name),), supposed=True)


def _own(asked: Asked, wanted: Wanted, piece: Candidate, name: str) -> Iterator[Change]:
    """A listing of the card whose own save the image is."""
    answer = piece.layouts.get(wanted.role.layout or "")
    fields = answer.fields if answer is not None and answer.state == "fits" else ()
    held = [one for one in fields if one.name.startswith(PREFIX) and answer and one.name not in answer.empty]
    told = [(one.name, _shown(one.value)) for one in held] or [
        ("address", _shown(one.value)) for one in piece.addresses[:1]
    ]
    if told:
        shown = ", ".join(f"{what.removeprefix(PREFIX)} {value}" for what, value in told)
        text = f"If {name} is this very card's own save: give a saved listing of the card, which must show {shown}."
        yield Change(ChangeKind.LISTING, text, wanted.role.name, piece.sha256, "foreign-identity", wanted=tuple(told),
                     supposed=True)  # fmt: skip


def _shown(value: object) -> str:
    return f"{value:016X}" if isinstance(value, int) else str(value)


def _benches(wanted: Wanted, found: Finding, name: str) -> Iterator[Change]:
    for one in found.evidence:
        words = {
            "boots": f"that starts by the {one.want} way",
            "cpu": f"whose processor is {one.want}",
            "secure_boot": "that does not ask for a signature",
        }
        if one.field in words:
            value = _CPU.get(one.want.partition(" or ")[0], "") if one.field == "cpu" else one.want
            text = f"Run {name} on another bench host, one {words[one.field]}, and give that host's file."
            if value:
                yield Change(ChangeKind.BENCH, text, wanted.role.name, found.piece, found.code,
                             wanted=((one.field, value),), supposed=True)  # fmt: skip


_CPU = {"ia32": "014c", "arm": "01c2", "x86-64": "8664", "aarch64": "aa64", "riscv64": "5064", "loongarch64": "6264"}


def _pinned(asked: Asked, choice: RoleChoice) -> Iterator[Change]:
    """Near pieces that could be taken by hand: those with the least against them first."""
    role = choice.role
    near = [one for one in choice.others if one.piece in asked.candidates]
    best = sorted(near, key=lambda one: (len(one.why), one.piece))[:MOST_PINS]
    for other in best:
        piece = asked.candidates[other.piece]
        if _absent(piece):
            continue
        text = f"Pin {readable(piece)} ({other.piece[:12]}) for {role}: it is near too. A pin proves nothing."
        yield Change(ChangeKind.PIN, text, role, other.piece)


def routes(asked: Asked, kit: Kit) -> Iterator[Change]:
    """Other routes to the same mode: by another bench, or from the mode that the card shows."""
    here = asked.route
    codes = {one.code for one in stops_of(kit)}
    for one in asked.family.routes:
        if one.id == here.id or one.target_mode != here.target_mode:
            continue
        if one.source_mode != here.source_mode and "wrong-start" not in codes:
            continue
        if one.bench != here.bench and one.source_mode == here.source_mode:
            text = f"Take route {one.id}, which does the same on another bench ({one.bench})."
            yield Change(ChangeKind.BENCH, text, route=one.id)
        else:
            text = f"Take route {one.id}, from mode {one.source_mode} on bench {one.bench}."
            yield Change(ChangeKind.ROUTE, text, route=one.id)
