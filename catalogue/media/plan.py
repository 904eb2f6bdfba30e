"""What a kit's folder on a medium will hold: its short code, and an 8.3 name for every piece.

The same kit and family always give the same plan, on every machine: nothing here looks at the medium.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from catalogue.errors import BadCall
from catalogue.families.model import ANY_BENCH, Family, Route
from catalogue.media import names83
from catalogue.media.names83 import Wanted
from catalogue.shapes.kit import Kit, KitPiece, RoleChoice

KIT_JSON = "KIT.JSN"
RUN_SHEET = "RUNSHEET.TXT"
SUMS = "SHA256.SUM"
HALFWAY = "HALFWAY.KIT"
"""Our own mark in a folder that is being written; it is gone once the kit is whole."""
KITS = "KITS.TXT"
CARDS = "CARDS"
PAPERS = (KIT_JSON, RUN_SHEET)
"""The kit's own papers that SHA256.SUM covers beside the pieces."""
RESERVED = (*PAPERS, SUMS, HALFWAY, KITS, CARDS, "RUN.BAT", "RUN.NSH")
"""Names that no piece may take."""

EXTENSIONS: Mapping[str, str] = {
    "dos-program": "EXE",
    "efi-application": "EFI",
    "windows-program": "EXE",
}
"""The extension without which the bench does not run a program of that kind; .COM stays .COM."""
USUAL: Mapping[str, str] = {"option-rom": "ROM", "efi-driver": "EFI", "text": "TXT", "linux-program": ""}
"""The extension of a piece whose own says nothing, by the first part of its kind; else BIN."""


@dataclass(frozen=True, slots=True)
class PlannedFile:
    """One piece under the name it gets. `roles` in the kit's order; a companion has the role of its utility."""

    name: str
    sha256: str
    size: int
    kind: str
    roles: tuple[str, ...]
    version: str | None = None
    companion: bool = False


@dataclass(frozen=True, slots=True)
class Clash:
    """Two things that would be one name, or a name that the bench cannot hold; `why` says which."""

    name: str
    role: str
    sha256: str
    why: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The files of one kit's folder, in the order in which they are written, without the kit's own papers."""

    code: str
    kit_id: str
    route: str
    bench: str
    files: tuple[PlannedFile, ...]
    clashes: tuple[Clash, ...] = ()

    def of_role(self, role: str) -> PlannedFile | None:
        """The file that fills `role` itself (no companion), or None where the kit has none."""
        return next((one for one in self.files if role in one.roles and not one.companion), None)


def route_of(kit: Kit, family: Family) -> Route:
    """The family's route that the kit is for; raises BadCall where the family has no such route."""
    for route in family.routes:
        if route.id == kit.route:
            return route
    raise BadCall(f'Family {family.id} has no route "{kit.route}"; prove the kit again with this family file.')


def plan(kit: Kit, family: Family) -> Plan:
    """Names for every piece of `kit`.

    One piece in two roles is one file. A companion keeps the name that the family's `with` gives, for the utility
    looks for that name. No piece takes a name that a step of the route makes.

    Raises BadCall where the family has no such route.
    """
    route = route_of(kit, family)
    pieces = {one.sha256: one for one in kit.pieces}
    made = tuple(step.makes for step in route.steps if step.makes)
    companions, clashes = _companions(kit, family, route, pieces)
    clashes += _made_clashes(companions, made)
    fixed = {one.name for one in companions}
    wanted = [_wanted(sha256, roles, version, pieces[sha256]) for sha256, roles, version in _own(kit, pieces)]
    names = names83.assign(wanted, {*RESERVED, *map(names83.folded, made), *map(names83.folded, fixed)})
    files = [
        PlannedFile(names[one.key], one.key, pieces[one.key].size, pieces[one.key].kind, one.roles, one.version)
        for one in wanted
    ]
    return Plan(
        code=names83.short_code(family.id, kit.id),
        kit_id=kit.id,
        route=route.id,
        bench=route.bench,
        files=(*files, *companions),
        clashes=tuple(clashes),
    )


def _own(kit: Kit, pieces: Mapping[str, KitPiece]) -> list[tuple[str, tuple[str, ...], str | None]]:
    """Each role's own piece once, with all the roles it fills, in the kit's order."""
    roles: dict[str, list[RoleChoice]] = {}
    for choice in kit.roles:
        if choice.pieces and choice.pieces[0] in pieces:
            roles.setdefault(choice.pieces[0], []).append(choice)
    return [
        (sha256, tuple(one.role for one in choices), next((one.version for one in choices if one.version), None))
        for sha256, choices in roles.items()
    ]


def _wanted(sha256: str, roles: tuple[str, ...], version: str | None, piece: KitPiece) -> Wanted:
    had = piece.name.replace("\\", "/").rpartition("/")[2]
    extension = EXTENSIONS.get(piece.kind)
    if piece.kind == "dos-program" and had.upper().endswith(".COM"):
        extension = "COM"
    return Wanted(sha256, had, roles, version, extension, USUAL.get(piece.kind.partition("/")[0], "BIN"))


def _companions(
    kit: Kit, family: Family, route: Route, pieces: Mapping[str, KitPiece]
) -> tuple[list[PlannedFile], list[Clash]]:
    """The companions under their own names; where two would be one file, a clash."""
    files: dict[str, PlannedFile] = {}
    clashes = []
    for choice in kit.roles:
        role = family.roles.get(choice.role)
        if role is None or not choice.pieces:
            continue
        names = role.companions.get(route.bench) or role.companions.get(ANY_BENCH) or ()
        for name, sha256 in _paired(names, choice.pieces[1:], pieces):
            why = _cannot_hold(name, route.bench)
            if why or sha256 is None:
                why = why or "the kit does not say which of its pieces this companion is"
                clashes.append(Clash(name, choice.role, sha256 or "", why))
                continue
            kept = name.upper() if route.bench != "linux" and names83.is_legal(name.upper()) else name
            there = files.get(names83.folded(kept))
            if there is None:
                piece = pieces[sha256]
                files[names83.folded(kept)] = PlannedFile(
                    kept, sha256, piece.size, piece.kind, (choice.role,), None, companion=True
                )
            elif there.sha256 != sha256 or there.name != kept:
                clashes.append(Clash(kept, choice.role, sha256, f"{there.roles[0]} brings other bytes of this name"))
    return list(files.values()), clashes


def _paired(
    names: Sequence[str], shas: Iterable[str], pieces: Mapping[str, KitPiece]
) -> Iterator[tuple[str, str | None]]:
    """Which companion bears which name: by the name it had; those left over in the order of both lists.

    A content that bears several names stands once in `shas`, at the first of them. None where that leaves it open
    which piece is meant.
    """
    left = [sha256 for sha256 in shas if sha256 in pieces]
    found: dict[str, str] = {}
    for name in names:
        match = next((one for one in left if pieces[one].name.casefold() == name.casefold()), None)
        if match is not None:
            left.remove(match)
            found[name] = match
    for name in names:
        if name not in found and left:
            found[name] = left.pop(0)
    for at, name in enumerate(names):
        earlier = {found[one] for one in names[:at] if one in found}
        yield name, found.get(name) or (earlier.pop() if len(earlier) == 1 else None)


def _cannot_hold(name: str, bench: str) -> str:
    """Why a companion cannot lie on the medium under this name; "" where it can."""
    if names83.folded(name) in RESERVED:
        return "the kit's own papers use this name"
    if names83.is_legal(name.upper()):
        return ""
    if bench == "dos":
        return "DOS cannot hold this name: a device, over 8.3, or a character that is not allowed"
    shown = name.isprintable() and not set(name) & set('<>:"/\\|?*') and len(name.encode("utf-8")) <= 255
    if not shown or names83.is_device(name) or name != name.strip(" ."):
        return "a FAT volume cannot hold this name"
    return ""


def _made_clashes(companions: Iterable[PlannedFile], made: Iterable[str]) -> list[Clash]:
    """Companions, and papers of ours, that a step of the route would write over."""
    makes = {names83.folded(name) for name in made}
    clashes = [
        Clash(one.name, one.roles[0], one.sha256, "a step of the route makes a file of this name")
        for one in companions
        if names83.folded(one.name) in makes
    ]
    clashes += [
        Clash(name, "", "", "a step of the route makes a file of this name, and it is one of the kit's own papers")
        for name in RESERVED
        if name in makes
    ]
    return clashes
