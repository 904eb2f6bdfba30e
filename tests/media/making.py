"""Small real families, kits and pieces for the tests of the media room (the invented world of the demo)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from io import BytesIO
from typing import BinaryIO

from catalogue.errors import NotWorkable
from catalogue.families.model import Expects, Family, Identity, Role, Route, Step
from catalogue.shapes.kit import Kit, KitPiece, RoleChoice

FIRMWARE = b"BITTERN PT CVFW 12.04.0\0" * 5_000
LEGACY = b"\x55\xaa\x02" + b"CVLB 8.41.0 " * 90
EEPROM = b"\xc0\x12\x08\xa5" + bytes(316)
WRITER = b"MZ" + b"QUAYHAND 3.14 " * 300
EXTEND = b"QHX" * 2_000


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def step(name: str, line: str | None = None, **more: object) -> Step:
    return Step(name=name, say=f"Do {name}.", type=line, **more)  # type: ignore[arg-type]


STEPS = (
    step("list", "{writer} look > {makes}", makes="CARD.TXT", learns=("slot", "sas", "serial")),
    step("save", "{writer} keep {slot} {makes}", makes="OLD.BIN", saves=("eeprom", "flash"),
         expects=Expects(blank=False, holds=("sas",))),
    step("lay", "{writer} lay {slot} {eeprom-image}", destroys=("eeprom",), writes=("eeprom",)),
    step("lay-check", "{writer} keep-cfg {slot} {makes}", makes="NEWCFG.BIN", checks=("eeprom",),
         expects=Expects(same_as="eeprom-image")),
    step("scour", "{writer} scour {slot}", destroys=("flash", "sas", "serial"), then="restart"),
    step("list-bare", "{writer} look > {makes}", makes="BARE.TXT", learns=("slot",)),
    step("load", "{writer} load {slot} {firmware}", adds=("{legacy-boot-rom}", "{uefi-boot-rom}"), writes=("flash",)),
    step("name", "{writer} name {slot} {sas} {serial}", writes=("sas", "serial"), then="restart"),
    step("after", "{writer} look > {makes}", makes="AFTER.TXT", compares=("mode", "sas", "serial")),
)  # fmt: skip

ROUTE = Route(
    id="raid-to-pass-dos",
    source_mode="raid",
    target_mode="pass",
    bench="dos",
    needs=("firmware", "eeprom-image", "writer"),
    may=("legacy-boot-rom", "uefi-boot-rom"),
    care=("one card in the machine", "drives off"),
    steps=STEPS,
)

FAMILY = Family(
    id="corvane-bittern",
    title="Corvane Bittern",
    file="bittern.toml",
    sha256="ab" * 32,
    as_of=date(2026, 3, 1),
    order="numeric",
    identities={
        "sas": Identity("sas", "sas-address", typed=("no-separators", "upper")),
        "serial": Identity("serial", "text", typed=("strip-zeros",)),
    },
    roles={
        "firmware": Role("firmware", written=True),
        "legacy-boot-rom": Role("legacy-boot-rom", written=True),
        "uefi-boot-rom": Role("uefi-boot-rom", written=True),
        "eeprom-image": Role("eeprom-image", written=True),
        "writer": Role("writer", companions={"dos": ("QHXTEND.BIN",)}),
    },
    routes=(ROUTE,),
    settled=True,
)


def piece(data: bytes, kind: str, name: str) -> KitPiece:
    return KitPiece(sha(data), len(data), kind, name)


PIECES = (
    piece(FIRMWARE, "opaque", "bittern passthrough firmware 12.04.0.bin"),
    piece(LEGACY, "option-rom/legacy-x86", "pass.rom"),
    piece(EEPROM, "opaque", "eeprom.bin"),
    piece(WRITER, "dos-program", "QuayHand.exe"),
    piece(EXTEND, "opaque", "qhxtend.bin"),
)
ROLES = (
    RoleChoice("firmware", True, True, (sha(FIRMWARE),), "12.04.0", "yes", "named", "current"),
    RoleChoice("eeprom-image", True, True, (sha(EEPROM),), None, "yes", "named", "unknown"),
    RoleChoice("writer", True, False, (sha(WRITER), sha(EXTEND)), "3.14", "yes", "neighbour", "current"),
    RoleChoice("legacy-boot-rom", False, True, (sha(LEGACY),), "8.41.0", "yes", "named", "current"),
    RoleChoice("uefi-boot-rom", False, True, left_out=True),
)
KIT = Kit(
    id="7f3" + "0" * 61,
    family="corvane-bittern",
    family_title="Corvane Bittern",
    family_sha256=FAMILY.sha256,
    route=ROUTE.id,
    verdict="ready",
    roles=ROLES,
    findings=(),
    pieces=PIECES,
)
BYTES: Mapping[str, bytes] = {sha(one): one for one in (FIRMWARE, LEGACY, EEPROM, WRITER, EXTEND)}
CODE = "BITT-7F3"
NAMES = {"FIRM1204.BIN", "EEPROM.BIN", "QUAYHAND.EXE", "PASS.ROM", "QHXTEND.BIN"}


def other_kit() -> tuple[Kit, Family, dict[str, bytes]]:
    """A second kit of another family, for media that carry two."""
    firmware = b"PLOVER NET 2.0 " * 999
    route = Route("net", "a", "b", "uefi", ("firmware",), steps=(step("load", "load {firmware}"),))
    family = replace(FAMILY, id="brinewell-plover", title="Brinewell Plover", routes=(route,))
    kit = replace(
        KIT,
        id="1ab" + "4" * 61,
        family="brinewell-plover",
        family_title="Brinewell Plover",
        route="net",
        roles=(RoleChoice("firmware", True, True, (sha(firmware),), "2.0", "yes", "named", "current"),),
        pieces=(piece(firmware, "opaque", "plover.img"),),
    )
    return kit, family, {sha(firmware): firmware}


def opener(content: Mapping[str, bytes] = BYTES):
    """An `open_piece` over bytes by SHA-256; what is not there is gone, as the store says it."""

    @contextmanager
    def open_piece(sha256: str) -> Iterator[BinaryIO]:
        if sha256 not in content:
            raise NotWorkable(f"{sha256}: its places are gone; index again.")
        yield BytesIO(content[sha256])

    return open_piece
