"""Sound questions over three invented families, as values: two storage cards and a network card (words.md's makers).

`Names` holds every ID, string and mode name, so that a whole world can be renamed at once. A `Scene` is a sound kit's
family, route and pieces, to plant faults in. Nothing here is read from bytes; tests of the readers do that.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from catalogue.families.model import (
    ANY_BENCH,
    ANY_MODE,
    Card,
    Claim,
    Family,
    Identity,
    IdPattern,
    Mode,
    Release,
    Role,
    Route,
    State,
    Step,
    Withdrawn,
)
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.judge import judge
from catalogue.shapes.card import CardFacts
from catalogue.shapes.finding import Finding, Level
from catalogue.shapes.host import Host, Machine
from catalogue.shapes.kit import Kit, Pin, RoleChoice, Word
from catalogue.shapes.layout import Layout, LayoutField, LayoutSum
from catalogue.shapes.piece import Beside, Place, Vouch
from catalogue.shapes.reading import CardId, Field, LayoutAnswer, Match, Reading, VersionClaim

TODAY = date(2026, 6, 1)


def sha(text: str) -> str:
    """A SHA-256 to call a piece by."""
    return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True)
class Names:
    """Every name of a world: the maker's IDs and company ID, the strings in the pieces, the modes."""

    vendor: int = 0xF234
    first: int = 0x0C80
    second: int = 0x0C81
    bare: int = 0x0C8F
    oui: int = 0xF23401
    firmware: str = "CVFW"
    boot: str = "CVLB"
    model: str = "BITTERN"
    tool: str = "QUAYHAND"
    extender: str = "QHXTEND.BIN"
    source: str = "raid"
    target: str = "pass"


BITTERN = Names()
HERON = Names(first=0x0A10, second=0x0A11, bare=0x0A1F, firmware="HNFW", boot="HNLB", model="HERON", tool="PIERHAND")
PLOVER = Names(
    vendor=0xF567, first=0x2001, second=0x2002, bare=0x200F, oui=0xF23402, firmware="BWNF", boot="BWNB",
    model="PLOVER", tool="MUDLARK", extender="MLDATA.BIN", source="plain", target="offload",
)  # fmt: skip


# --- pieces -----------------------------------------------------------------------------------------------------------


def piece(name: str, kind: str = "opaque", **rest: Any) -> Candidate:
    """Any piece; its SHA-256 is that of its name."""
    reading = rest.pop("reading", None) or Reading("test", kind, kind)
    places = rest.pop("places", None) or (Place(f"/in/{name}"),)
    return Candidate(sha(name), rest.pop("size", 4096), kind, reading, tuple(places), **rest)


def found(*texts: tuple[str, str] | str) -> dict[str, Match]:
    """Matches: a pattern with the value it took, or a plain string."""
    pairs = [(one, "") if isinstance(one, str) else one for one in texts]
    return {text: Match(64 * place, len(text), value) for place, (text, value) in enumerate(pairs, 1)}


def image(
    kind: str,
    vendor: int | None,
    device: int = 0,
    devices: tuple[int, ...] = (),
    *,
    code: int = 0x010700,
    last: bool = True,
    machine: int | None = None,
    driver: int | None = None,
    subsystem: int = 11,
    offset: int = 0,
) -> Reading:
    """One image of an option ROM as the ROM reader gives it; `driver` is the machine of the PE inside an EFI image."""
    fields = [Field("vendor_id", vendor, offset + 0x44, 2), Field("device_id", device, offset + 0x46, 2)]
    fields += [Field("class_code", code, offset + 0x4D, 3), Field("last_image", last, offset + 0x55, 1)]
    parts: tuple[Reading, ...] = ()
    if kind == "efi":
        fields += [
            Field("efi_subsystem", subsystem, offset + 8, 2),
            Field("efi_machine", machine or 0x8664, offset + 10, 2),
        ]
        inner = (Field("machine", driver or machine or 0x8664, offset + 0x104, 2), Field("subsystem", subsystem))
        parts = (Reading("pe", "efi-driver", "driver", fields=inner),)
    ids = () if vendor is None else (CardId(vendor, device, devices, code),)
    return Reading("option-rom-image", f"option-rom/{kind}", kind, offset, 512, tuple(fields), parts, ids)


def rom(name: str, *images: Reading, **rest: Any) -> Candidate:
    """An option ROM of these images."""
    kind = images[0].kind if len(images) == 1 else "option-rom"
    ids = tuple(dict.fromkeys(card for one in images for card in one.ids))
    reading = Reading("option-rom", kind, "ROM", parts=images, ids=ids, **rest.pop("said", {}))
    return piece(name, kind, reading=reading, size=rest.pop("size", 65_536), **rest)


def layout_answer(layout: Layout, state: str = "fits", **values: Any) -> LayoutAnswer:
    """What the layout's reader answers; `values` by name, dots as double underscores. What is not given is empty."""
    given = {name.replace("__", "."): value for name, value in values.items()}
    fields = tuple(Field(one.means, given.get(one.means, 0), one.at, one.length) for one in layout.fields)
    empty = frozenset(one.means for one in layout.fields if one.means not in given)
    sum_ok = None if layout.sum is None or state != "fits" else given.get("sum_ok", True)
    return LayoutAnswer(state, fields, {one.name: one.value for one in fields}, empty, sum_ok)


def named(by: str = "list of the maker", algorithm: str = "sha256") -> Vouch:
    """A list whose source a person recorded."""
    return Vouch("named", by, f"/lists/{by}:3", algorithm)


def neighbour() -> Vouch:
    """An archive's own check, or a list beside the piece."""
    return Vouch("neighbour", "SHA256SUMS", "/in/SHA256SUMS:1", "sha256")


def machine(**facts: Any) -> Machine:
    """A machine that starts both ways, without Secure Boot, with other facts where given."""
    return Machine(**{"cpu": 0x8664, "boots": frozenset({"legacy", "uefi"}), "secure_boot": False, **facts})


HOST = Host("Bench and rack", "/hosts/rack.toml", sha("rack"), bench=machine(), destination=machine())
"""Facts that stop nothing: rules on hosts are silent."""


# --- a scene ----------------------------------------------------------------------------------------------------------


@dataclass
class Scene:
    """A sound kit to plant faults in. `pieces` by a short key; `roles` gives the key that fills each role."""

    family: Family
    pieces: dict[str, Candidate]
    roles: dict[str, str]
    route: str = ""
    pins: list[Pin] = field(default_factory=list)
    words: list[Word] = field(default_factory=list)
    today: date = TODAY
    ran: dict[str, dict[str, tuple[Vouch, ...]]] = field(default_factory=dict)
    route_ran: bool = True
    host: Host = HOST
    cards: tuple[CardFacts, ...] = ()

    def question(self) -> Question:
        route = next((one for one in self.family.routes if one.id == self.route), self.family.routes[0])
        return Question(
            family=self.family,
            route=route,
            candidates=tuple(self.pieces.values()),
            today=self.today,
            pins=tuple(self.pins),
            words=tuple(self.words),
            ran=self.ran,
            route_ran=self.route_ran,
            host=self.host,
            cards=self.cards,
        )

    def judge(self) -> Kit:
        return judge(self.question())

    def of(self, role: str) -> Candidate:
        """The piece that fills `role`."""
        return self.pieces[self.roles[role]]

    def change(self, key: str, **what: Any) -> Candidate:
        """The piece called `key` with other facts, under the same SHA-256."""
        self.pieces[key] = replace(self.pieces[key], **what)
        return self.pieces[key]

    def edit(self, **what: Any) -> None:
        """The family with other facts."""
        self.family = replace(self.family, **what)

    def edit_role(self, role: str, **what: Any) -> None:
        self.edit(roles={**self.family.roles, role: replace(self.family.roles[role], **what)})

    def edit_route(self, **what: Any) -> None:
        self.edit(routes=tuple(replace(one, **what) for one in self.family.routes))

    def edit_release(self, at: int, role: str, claim: Claim | None) -> None:
        """Another entry for `role` in the release at this place of the file; None takes it out."""
        releases = list(self.family.releases)
        claims = {name: one for name, one in releases[at].claims.items() if name != role}
        if claim is not None:
            claims[role] = claim
        releases[at] = replace(releases[at], claims=claims)
        self.edit(releases=tuple(releases))

    def word(self, code: str, sha256: str) -> None:
        self.words.append(Word(code, sha256, "checked by hand", "A. Bench"))

    def pin(self, role: str, sha256: str) -> None:
        self.pins.append(Pin(role, sha256, "as agreed"))


def stops(kit: Kit) -> list[tuple[str, str | None, str | None]]:
    """Code, role and piece of every stop."""
    return [(one.code, one.role, one.piece) for one in kit.findings if one.level is Level.STOP]


def all_of(kit: Kit) -> set[tuple[str, str | None, str | None]]:
    """Code, role and piece of every finding, whatever its level."""
    return {(one.code, one.role, one.piece) for one in kit.findings}


def finding(kit: Kit, code: str, role: str | None = None) -> Finding:
    """The one finding of this code (and role)."""
    some = [one for one in kit.findings if one.code == code and role in (None, one.role)]
    assert len(some) == 1, (code, role, all_of(kit))
    return some[0]


def choice(kit: Kit, role: str) -> RoleChoice:
    return next(one for one in kit.roles if one.role == role)


def chosen(kit: Kit) -> dict[str, tuple[str, ...]]:
    """What fills each role."""
    return {one.role: one.pieces for one in kit.roles}


# --- the families -----------------------------------------------------------------------------------------------------


def _layout(names: Names, size: int) -> Layout:
    return Layout(
        name=names.model.lower(),
        size=size,
        magic_at=0,
        magic=b"\xc0\x12\x08\xa5",
        sum=LayoutSum("sum8", 0, size, total=0),
        fields=(
            LayoutField(0x10, "u16le", 2, "mode.vendor"),
            LayoutField(0x12, "u16le", 2, "mode.device"),
            LayoutField(0x40, "u64be", 8, "identity.sas"),
            LayoutField(0x60, "ascii", 16, "identity.serial", (0x00, 0x20, 0xFF)),
        ),
    )


def _modes(names: Names) -> dict[str, Mode]:
    return {
        names.source: Mode(names.source, (IdPattern(names.vendor, names.first),), 0x010400),
        names.target: Mode(names.target, (IdPattern(names.vendor, names.second),), 0x010700),
    }


def _family(names: Names, order: str, bench: str, **rest: Any) -> Family:
    """What all families here share; `rest` adds or replaces."""
    route = Route(
        id=f"{names.source}-to-{names.target}-{bench}",
        source_mode=names.source,
        target_mode=names.target,
        bench=bench,
        needs=rest.pop("needs"),
        may=rest.pop("may", ()),
        steps=(Step("load", "Load.", type="{writer} load {firmware}", adds=("{legacy-boot-rom}", "{uefi-boot-rom}")),),
    )
    family = Family(
        id=f"{names.model.lower()}-family",
        title=names.model.title(),
        file=f"/families/{names.model.lower()}.toml",
        sha256=sha(f"family {names}"),
        as_of=date(2026, 3, 1),
        order=order,
        card=Card(flash=8_388_608),
        modes=_modes(names),
        states={"bare": State("bare", (IdPattern(names.vendor, names.bare),), "scour")},
        identities={"sas": Identity("sas", "sas-address", (names.oui,), span=8)},
        lines={"as_of": 4, "role.firmware": 40, "role.firmware.lowest": 47, "release[0].firmware": 90},
        settled=True,
    )
    return replace(family, routes=(route,), **rest)


def bittern(names: Names = BITTERN) -> Scene:
    """The newer storage card: DOS bench, EEPROM of 320 bytes, two releases and a withdrawn version, two ROMs."""
    layout = _layout(names, 320)
    firmware, boot, tool = f"{names.firmware} {{version}}", f"{names.boot} {{version}}", f"{names.tool} {{version}}"
    right, wrong = f"{names.model} PT", f"{names.model} RD"
    own = [sha("fw-12"), sha("fw-11")]
    roles = {
        "firmware": Role(
            "firmware", True, ("hash", "has"), has={names.source: wrong, names.target: right},
            size=(65_536, 2_097_152), version=firmware, lowest="9.00.0",
        ),
        "legacy-boot-rom": Role(
            "legacy-boot-rom", True, ("hash", "ids"), {ANY_BENCH: "option-rom/legacy-x86"}, "to", version=boot,
        ),
        "uefi-boot-rom": Role("uefi-boot-rom", True, ("hash", "ids"), {ANY_BENCH: "option-rom/efi"}, "to"),
        "eeprom-image": Role("eeprom-image", True, ("layout",), layout=layout.name),
        "writer": Role(
            "writer", False, ("hash", "has"), {"dos": "dos-program", "uefi": "efi-application"},
            has={ANY_MODE: names.tool}, version=tool, companions={"dos": (names.extender,)},
        ),
    }  # fmt: skip
    releases = (
        Release(
            "twelve", date(2026, 2, 10), "stop",
            {
                "firmware": Claim("12.04.0", ("0C040000",), (own[0],)),
                "legacy-boot-rom": Claim("8.41.0"),
                "writer": Claim(least="3.10", most="3.99"),
            },
        ),
        Release(
            "eleven", date(2025, 6, 1), "stop",
            {
                "firmware": Claim("11.00.0", (), (own[1],)),
                "legacy-boot-rom": Claim("8.30.0"),
                "writer": Claim(least="3.00", most="3.20"),
            },
        ),
    )  # fmt: skip
    family = _family(
        names, "numeric", "dos",
        needs=("firmware", "eeprom-image", "writer"),
        may=("legacy-boot-rom", "uefi-boot-rom"),
        roles=roles,
        layouts={layout.name: layout},
        releases=releases,
        withdrawn=(Withdrawn("firmware", "12.02.0", None, "drops its link after a warm restart", "notice 14"),),
    )  # fmt: skip
    target = (names.vendor, names.second)
    beside = (Beside(names.extender.lower(), sha("extender"), 900, "opaque"),)
    pieces = {
        "fw": piece("fw-12", size=524_288, matches=found((firmware, "12.04.0"), right)),
        "fw-old": piece("fw-11", size=524_288, matches=found((firmware, "11.00.0"), right)),
        "lb": rom(
            "lb-841", image("legacy-x86", *target, (names.bare,)), matches=found((boot, "8.41.0")), vouches=(named(),),
        ),
        "ub": rom("ub-1", image("efi", *target), vouches=(named(),)),
        "ee": piece(
            "ee-1", size=320, vouches=(named(),),
            layouts={layout.name: layout_answer(layout, mode__vendor=names.vendor, mode__device=names.second)},
        ),
        "writer": piece(
            "writer-312", "dos-program", size=34_816, matches=found((tool, "3.12"), names.tool), beside=beside,
            vouches=(named(),),
        ),
    }  # fmt: skip
    filled = {
        "firmware": "fw", "eeprom-image": "ee", "writer": "writer", "legacy-boot-rom": "lb", "uefi-boot-rom": "ub",
    }  # fmt: skip
    return Scene(family, pieces, filled)


def heron(names: Names = HERON) -> Scene:
    """The older storage card: Linux bench, Debian's order, EEPROM of 192 bytes, firmware by digest alone."""
    layout = replace(_layout(names, 192), sum=None)
    tool = f"{names.tool} {{version}}"
    roles = {
        "firmware": Role("firmware", True, ("hash",), size=(131_072, 131_072)),
        "eeprom-image": Role("eeprom-image", True, ("hash", "layout"), layout=layout.name),
        "writer": Role(
            "writer", False, ("has",), {"linux": "linux-program"}, has={ANY_MODE: names.tool}, version=tool,
        ),
    }  # fmt: skip
    releases = (
        Release(
            "spring", date(2024, 4, 1), "caution",
            {
                "firmware": Claim(sha256=(sha("heron-fw"),)),
                "eeprom-image": Claim(sha256=(sha("heron-ee"),)),
                "writer": Claim("1.0-2", ("1.0-2+b1",)),
            },
        ),
    )  # fmt: skip
    family = _family(
        names, "debian", "linux",
        needs=("firmware", "eeprom-image", "writer"), roles=roles, layouts={layout.name: layout}, releases=releases,
    )  # fmt: skip
    pieces = {
        "fw": piece("heron-fw", size=131_072),
        "ee": piece(
            "heron-ee", size=192,
            layouts={layout.name: layout_answer(layout, mode__vendor=names.vendor, mode__device=names.second)},
        ),
        "writer": piece(
            "heron-writer", "linux-program", matches=found((tool, "1.0-2"), names.tool), vouches=(neighbour(),),
        ),
    }  # fmt: skip
    return Scene(family, pieces, {"firmware": "fw", "eeprom-image": "ee", "writer": "writer"})


def plover(names: Names = PLOVER) -> Scene:
    """The network card: UEFI bench, semver, one ROM joined for two roles, a utility with a version resource."""
    tool = names.tool
    roles = {
        "firmware": Role(
            "firmware", True, ("has",), has={names.source: f"{names.model} PL", names.target: f"{names.model} OF"},
            version=f"{names.firmware}-{{version}}",
        ),
        "legacy-boot-rom": Role("legacy-boot-rom", True, ("ids",), {ANY_BENCH: "option-rom/legacy-x86"}, "to"),
        "uefi-boot-rom": Role("uefi-boot-rom", True, ("ids",), {ANY_BENCH: "option-rom/efi"}, "to"),
        "writer": Role("writer", False, ("has",), {"uefi": "efi-application"}, has={ANY_MODE: tool}),
    }  # fmt: skip
    releases = (
        Release(
            "2.1", date(2026, 1, 5), "caution",
            {"firmware": Claim("2.1.0", ("02010000",)), "writer": Claim(least="4.0.0", most="5.0.0")},
        ),
        Release(
            "2.0", date(2025, 1, 5), "caution",
            {"firmware": Claim("2.0.0"), "writer": Claim(least="3.0.0", most="4.9.0")},
        ),
    )  # fmt: skip
    family = _family(
        names, "semver", "uefi",
        needs=("firmware", "uefi-boot-rom", "writer"), may=("legacy-boot-rom",), roles=roles, releases=releases,
    )  # fmt: skip
    target = (names.vendor, names.second)
    version = VersionClaim("4.2.0", "VERSIONINFO file version", 2048)
    pieces = {
        "fw": piece(
            "plover-fw", matches=found((f"{names.firmware}-{{version}}", "2.1.0"), f"{names.model} OF"),
            vouches=(named(),),
        ),
        "rom": rom(
            "plover-rom", image("legacy-x86", *target, last=False), image("efi", *target, offset=512),
            vouches=(named(algorithm="sha1"), named("second list")),
        ),
        "writer": piece(
            "plover-writer", "efi-application", matches=found(tool),
            reading=Reading("pe", "efi-application", "EFI application", versions=(version,)),
            vouches=(Vouch("agreed", "two archives"),),
        ),
    }  # fmt: skip
    filled = {"firmware": "fw", "uefi-boot-rom": "rom", "legacy-boot-rom": "rom", "writer": "writer"}
    return Scene(family, pieces, filled)


SCENES: dict[str, Callable[..., Scene]] = {"bittern": bittern, "heron": heron, "plover": plover}


def others_of(kit: Kit, role: str) -> dict[str, tuple[str, ...]]:
    """Why each near piece was not chosen."""
    return {one.piece: one.why for one in choice(kit, role).others}


def shuffled(pieces: Iterable[Candidate], by: Callable[[Candidate], Any]) -> dict[str, Candidate]:
    """The same pieces, coming in another order."""
    return {one.sha256: one for one in sorted(pieces, key=by)}
