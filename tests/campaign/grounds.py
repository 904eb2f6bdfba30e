"""The ground on which faults are planted: a demo family, one of its routes, and the sound pieces of its roles."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sample_bundles import bittern, heron, plover
from sample_bundles.item import Item


@dataclass(frozen=True, slots=True)
class Ground:
    """`roles`: role to the files that fill it, the piece itself first. `has`: texts by which its firmware is known."""

    family: str
    route: str
    roles: Mapping[str, tuple[Item, ...]]
    has: tuple[bytes, ...]
    magic: bytes = b""

    def piece(self, role: str) -> Item:
        """The piece that fills `role`."""
        return self.roles[role][0]

    def fellows(self, role: str) -> tuple[Item, ...]:
        """What lies beside the piece: its companions."""
        return self.roles[role][1:]

    def shared(self, role: str) -> tuple[str, ...]:
        """All roles that the piece of `role` fills, itself among them."""
        return tuple(one for one, items in self.roles.items() if items[0] is self.piece(role))


def _storage(made: object, family: str, has: str, magic: str, companion: Item) -> dict[str, Ground]:
    part = {"firmware": "FIRMWARE", "legacy-boot-rom": "LEGACY", "uefi-boot-rom": "UEFI", "eeprom-image": "EEPROM"}
    common = {role: (getattr(made, name),) for role, name in part.items()}
    texts = (f"{has} RD".encode(), f"{has} PT".encode())
    dos = {**common, "writer": (made.DOS_WRITER, companion)}
    uefi = {**common, "writer": (made.UEFI_WRITER,)}
    return {
        f"{family} dos": Ground(family, "raid-to-pass-dos", dos, texts, bytes.fromhex(magic)),
        f"{family} uefi": Ground(family, "raid-to-pass-uefi", uefi, texts, bytes.fromhex(magic)),
    }


def _network() -> dict[str, Ground]:
    common = {"firmware": (plover.FIRMWARE,), "legacy-boot-rom": (plover.ROM,), "uefi-boot-rom": (plover.ROM,)}
    texts = (b"PLOVER QUIET", b"PLOVER NETSTART")
    writers = {"linux": plover.LINUX_WRITER, "uefi": plover.UEFI_WRITER}
    return {
        f"{plover.FAMILY} {bench}": Ground(plover.FAMILY, f"netstart-{bench}", {**common, "writer": (one,)}, texts)
        for bench, one in writers.items()
    }


GROUNDS: Mapping[str, Ground] = {
    **_storage(bittern, bittern.FAMILY, "BITTERN", "C01208A5", bittern.EXTENDER),
    **_storage(heron, heron.FAMILY, "HERON", "C012065A", heron.KEYS),
    **_network(),
}
"""Two storage families and a network family, each by both of its routes."""
