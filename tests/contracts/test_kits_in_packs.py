"""Kits judged from outside whose pieces lie in 7z archives, cabinets, installers and packages."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.contracts.test_kits_outside import Bench, bench, firmware, sha, sound, stops
from tests.formats import build_7z, build_cab
from tests.formats.build_compound import installer
from tests.formats.build_packs import Entry, ar, cpio, rpm

__all__ = ["bench"]
Members = dict[str, bytes]

PACKS: dict[str, Callable[[Members], bytes]] = {
    "a.7z": lambda members: build_7z.archive(*(build_7z.File(*one) for one in members.items()), pack_header=True),
    "a.cab": lambda members: build_cab.cabinet(*(build_cab.File(one.encode(), body) for one, body in members.items())),
    "a.msi": lambda members: installer({"product.cab": PACKS["a.cab"](members)}),
    "a.rpm": lambda members: rpm(cpio(*(Entry(name.encode(), body) for name, body in members.items()))),
    "a.a": lambda members: ar(*((name.encode() + b"/", body) for name, body in members.items())),
}


def packed(bench: Callable[..., Bench], name: str, members: Members) -> Bench:
    """A bench whose folder holds the one archive, and a recorded list that names each of its members."""
    made = bench({**dict.fromkeys(sound()), name: PACKS[name](members)})
    listed = made.folder / "members.sha256"
    listed.write_text("".join(f"{sha(body)}  {one}\n" for one, body in members.items()))
    made.call("vouch", "--list", str(listed), "--source", "maker's page", "--by", "Ada")
    return made


@pytest.mark.parametrize("name", PACKS)
def test_a_kit_out_of_an_archive_is_ready(name: str, bench: Callable[..., Bench]) -> None:
    kit = packed(bench, name, sound()).kit()
    assert kit["verdict"] == "ready", stops(kit)


@pytest.mark.parametrize("name", PACKS)
def test_a_withdrawn_firmware_in_an_archive_is_refused(name: str, bench: Callable[..., Bench]) -> None:
    kit = packed(bench, name, {**sound(), "fw.bin": firmware(version=b"CVFW 12.02.0")}).kit()
    assert ("withdrawn", "firmware") in stops(kit)


def test_a_member_whose_check_fails_is_refused(bench: Callable[..., Bench]) -> None:
    """The bytes unpack, and the archive's own CRC speaks against them."""
    members = sound()
    files = [build_7z.File(name, body, crc=1 if name == "fw.bin" else None) for name, body in members.items()]
    made = bench({**dict.fromkeys(members), "a.7z": build_7z.archive(*files)})
    kit = made.kit()
    assert ("archive-damaged", "firmware") in stops(kit)
