"""Choice: whole and true pieces that are the wrong ones (judging.md)."""

from __future__ import annotations

import random
from types import ModuleType

from sample_bundles import bittern, heron, pe, plover
from tests.campaign.classes_bytes import FIRMWARE, LEGACY, page, put
from tests.campaign.grounds import GROUNDS, Ground
from tests.campaign.mutant import FaultClass, Planted

GROUP = "choice"
MADE: dict[str, ModuleType] = {one.FAMILY: one for one in (bittern, heron, plover)}
WITHDRAWN = {bittern.FAMILY: "12.02.0", heron.FAMILY: "7.16.0", plover.FAMILY: "2.3.0"}
LOWEST = {bittern.FAMILY: 9, heron.FAMILY: 6}
NOW = {bittern.FAMILY: "12.04.0", heron.FAMILY: "7.18.2", plover.FAMILY: "2.3.1"}
OLD = {bittern.FAMILY: ("2.10", "2.99", "1.00"), heron.FAMILY: ("2.09", "1.99", "2.00"),
       plover.FAMILY: ("1.9.9", "1.0.0", "0.9.0")}  # fmt: skip
NEW = {bittern.FAMILY: ("4.00", "3.100", "5.01"), heron.FAMILY: ("3.00", "2.100", "4.00"),
       plover.FAMILY: ("1.99.1", "2.0.0", "3.1.0")}  # fmt: skip


def _devices(made: ModuleType) -> tuple[int, int]:
    """Device of the mode a route starts from, and of the one it leads to."""
    return (made.PLAIN, made.NETBOOT) if made is plover else (made.RAID, made.PASS)


def _version(draw: random.Random, major: int) -> str:
    return f"{major}.{draw.randrange(10)}.{draw.randrange(1, 9)}"


def other_mode(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """Old and new, of the mode that the route leaves."""
    made = MADE[ground.family]
    away, _to = _devices(made)
    if role == FIRMWARE:
        version = draw.choice((NOW[ground.family], "12.01.0" if made is bittern else "7.01.0", "2.1.0"))
        return put(ground, role, made.controller(version, away), "other-mode", "below-lowest")
    if made is plover and role != "writer":
        return put(ground, role, plover.joined_rom(draw.choice(("1.8.0", "1.7.0", "1.6.0")), away), "other-mode")
    if made is not plover and role in (LEGACY, "uefi-boot-rom"):
        build = made.legacy_rom if role == LEGACY else made.uefi_rom
        version = draw.choice(("8.41.0", "8.30.0") if made is bittern else ("5.12", "5.08"))
        return put(ground, role, build(version, away), "other-mode")
    return None


def withdrawn(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    made = MADE[ground.family]
    if role != FIRMWARE:
        return None
    return put(ground, role, made.controller(WITHDRAWN[ground.family], _devices(made)[1]), "withdrawn")


def below_lowest(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    made = MADE[ground.family]
    if role != FIRMWARE or ground.family not in LOWEST:
        return None
    version = _version(draw, draw.randrange(1, LOWEST[ground.family]))
    return put(ground, role, made.controller(version, _devices(made)[1]), "below-lowest")


def beyond(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """A version above all known is never chosen by itself."""
    made = MADE[ground.family]
    if role != FIRMWARE:
        return None
    return put(ground, role, made.controller(_version(draw, draw.randrange(90, 120)), _devices(made)[1]), near=False)


def _writer(ground: Ground, version: str) -> bytes:
    build = getattr(MADE[ground.family], f"{ground.route.rpartition('-')[2]}_writer")
    return bytes(build(version))


def too_old(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    if role != "writer":
        return None
    return put(ground, role, _writer(ground, draw.choice(OLD[ground.family])), "tool-too-old")


def too_new(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    if role != "writer":
        return None
    return put(ground, role, _writer(ground, draw.choice(NEW[ground.family])), "tool-too-new")


def other_bench(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """The family's utility for the other bench, or one for Windows."""
    if role != "writer":
        return None
    others = [one.piece(role).data for one in GROUNDS.values() if one.family == ground.family and one is not ground]
    word = {bittern.FAMILY: "QUAYHAND 3.22", heron.FAMILY: "WEIRHAND 2.40", plover.FAMILY: "SHINGLE 1.12.0"}
    others.append(pe.program(pe.WINDOWS_CONSOLE, word[ground.family], draw.randbytes(3_000)))
    return put(ground, role, draw.choice(others), "other-bench")


def companion(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """Gone, misnamed, blank, or a web page."""
    if not ground.fellows(role):
        return None
    whole = ground.piece(role)
    name = ground.fellows(role)[0].name
    fellow = ground.fellows(role)[0].data
    files, want = draw.choice((
        ({}, "companion-missing"),
        ({"X" + name: fellow}, "companion-missing"),
        ({name: bytes([draw.choice((0, 255))]) * draw.randrange(1, 9_000)}, "blank"),
        ({name: page(fellow, draw)}, "wrong-kind"),
    ))  # fmt: skip
    return Planted({whole.name: whole.data, **files}, whole.data, (want,))


def removed(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    return Planted({"note.txt": b"moved %d\r\n" % draw.randrange(10**9)}, b"", (), near=False)


def other_family(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """The same role of another family, which only a pin brings in."""
    others = [one for one in GROUNDS.values() if one.family != ground.family and role in one.roles]
    data = draw.choice(others).piece(role).data if others else b""
    if not data or role == "eeprom-image":
        return None
    return put(ground, role, data, "other-family", "fit-unproved", "other-bench", near=False)


def swapped_roles(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """Another role's piece pinned to this one."""
    other = draw.choice([one for one in ground.roles if one not in ground.shared(role)])
    data = ground.piece(other).data
    want = ("fit-unproved", "wrong-kind", "wrong-size", "other-family", "other-bench", "other-mode")
    return put(ground, role, data, *want, near=False)


def tie(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """Two contents of one version, of which neither is the family's: nobody says which."""
    if role != FIRMWARE:
        return None
    whole = ground.piece(role).data
    one, other = (bytearray(whole) for _ in range(2))
    at, to = draw.sample(range(0x1000, len(whole) - 0x4000), 2)
    one[at] ^= 1 << draw.randrange(8)
    other[to] ^= 1 << draw.randrange(8)
    return Planted({"A.FW": bytes(one), "B.FW": bytes(other)}, bytes(one),
                   ("ambiguous", "same-version-two-contents"))  # fmt: skip


CLASSES = (
    FaultClass(GROUP, "a role's piece gone", removed, named=False, pinned=False, containers=("plain",)),
    FaultClass(GROUP, "the other mode's piece", other_mode),
    FaultClass(GROUP, "a withdrawn version", withdrawn, varied=False),
    FaultClass(GROUP, "below the lowest version", below_lowest),
    FaultClass(GROUP, "above all known versions", beyond, pinned=False),
    FaultClass(GROUP, "utility too old", too_old),
    FaultClass(GROUP, "utility too new", too_new),
    FaultClass(GROUP, "utility for another bench", other_bench),
    FaultClass(GROUP, "companion gone, blank or no such thing", companion),
    FaultClass(GROUP, "the same role of another family", other_family),
    FaultClass(GROUP, "another role's piece", swapped_roles),
    FaultClass(GROUP, "two contents of one version", tie, pinned=False),
)
