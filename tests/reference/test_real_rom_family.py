"""A family made for a real option ROM of Debian's `ipxe-qemu`: found by its listing line, proved, written, read back.

Sources: Debian package `ipxe-qemu` (the ROM files of two emulated network cards, unchanged), fetched by
`apt-get download`; the listing line is printed by `lspci` of Debian's pciutils, with the names of pci.ids.
The utility is a stand-in of the demo's: it prints a line under DOS and writes nothing.
"""

from __future__ import annotations

import shutil
import subprocess
from hashlib import sha256
from pathlib import Path

import pytest

from catalogue.shapes.kit import Pin
from catalogue.tasks import accept_family, find_family, index, pieces, read_back, write_out
from sample_bundles import dos
from sample_bundles.noise import noise
from tests.reference import debian
from tests.reference.demo_bench import Bench, chosen, stops

pytestmark = pytest.mark.outside

ROMS = "usr/lib/ipxe/qemu"
FAMILY = """\
schema = 1
id = "emulated-network-card"
title = "An emulated network card"
as_of = 2026-03-01
order = "numeric"
[card]
controllers = 1
[mode.later]
ids = ["8086:10D3"]
class = "020000"
[mode.first]
ids = ["8086:100E"]
class = "020000"
[listing]
block = "Berth ~ {{slot}}"
[role.legacy-boot-rom]
written = true
kind = "option-rom/legacy-x86"
decide = ["hash", "ids"]
ids = "to"
[role.uefi-boot-rom]
written = true
kind = "option-rom/efi"
decide = ["hash", "ids"]
ids = "to"
[role.writer]
kind = {{ dos = "dos-program" }}
decide = ["has"]
has = "STANDINHAND"
[[release]]
name = "Debian's"
date = 2026-01-01
mix = "stop"
legacy-boot-rom = {{ sha256 = ["{digest}"] }}
uefi-boot-rom = {{ sha256 = ["{digest}"] }}
[[route]]
id = "new-rom"
from = "later"
to = "first"
bench = "dos"
needs = ["legacy-boot-rom", "uefi-boot-rom", "writer"]
may = []
care = ["one card in the machine"]
unchecked = []
step = [
  {{ name = "list", say = "List.", type = "{{writer}} look > {{makes}}", makes = "CARD.TXT", learns = ["slot"] }},
  {{ name = "save", say = "Save.", type = "{{writer}} keep {{slot}} {{makes}}", makes = "OLD.BIN", saves = ["flash"] }},
  {{ name = "load", say = "Load.", type = "{{writer}} load {{slot}} {{legacy-boot-rom}}", adds = ["{{uefi-boot-rom}}"], destroys = ["flash"], writes = ["flash"] }},
  {{ name = "check", say = "Compare.", type = "{{writer}} match {{slot}} > {{makes}}", makes = "MATCH.TXT", checks = ["flash"], then = "restart" }},
  {{ name = "after", say = "List a last time.", type = "{{writer}} look > {{makes}}", makes = "AFTER.TXT", compares = ["mode"] }},
]
"""  # noqa: E501


def listing_line(vendor: int, device: int) -> str:
    """The card's line as lspci prints it from a dump of its configuration space; without lspci, the bare line."""
    if shutil.which("lspci") is None:
        return f"00:03.0 Ethernet controller [0200]: [{vendor:04x}:{device:04x}] (rev 03)"
    space = vendor.to_bytes(2, "little") + device.to_bytes(2, "little") + bytes.fromhex("07010000 03000002 00000000")
    space = space.ljust(64, b"\0")
    rows = "".join(f"{at:02x}: {space[at : at + 16].hex(' ')}\n" for at in range(0, 64, 16))
    done = subprocess.run(["lspci", "-F", "/dev/stdin", "-nn"], input=f"00:03.0 x\n{rows}\n", capture_output=True,
                          text=True, check=True)
    return done.stdout.strip()


@pytest.fixture
def bench(tmp_path):
    """Every ROM of the package, the stand-in utility, and the family, accepted."""
    folder = debian.files("ipxe-qemu") / ROMS
    digest = sha256((folder / "efi-e1000.rom").read_bytes()).hexdigest()
    families = tmp_path / "families"
    families.mkdir()
    file = families / "emulated.toml"
    file.write_text(FAMILY.format(digest=digest))
    one = Bench(tmp_path, (families,))
    shutil.copytree(folder, one.intake / "roms")
    (one.intake / "STANDIN.EXE").write_bytes(dos.mz("STANDINHAND 1.00", noise("stand-in", 2_000)))
    accepted = accept_family.run(one.context, file)
    assert accepted.settled, accepted.problems
    one.index()
    one.digest = digest
    return one


def test_a_real_rom_from_listing_line_to_medium(bench, tmp_path):
    (found,) = [one for one in find_family.run(bench.context, listing_line(0x8086, 0x100E)) if "emulated" in one.id]
    assert (found.id, found.mode) == ("emulated-network-card", "first")
    listed = [one for one in pieces.run(bench.context, card=(0x8086, 0x100E)) if one.sha256 == bench.digest]
    assert [one.kind for one in listed] == ["option-rom"]

    proved = bench.kit(found.id)
    assert stops(proved) == set()
    assert proved.verdict == "ready"
    assert chosen(proved)["legacy-boot-rom"] == chosen(proved)["uefi-boot-rom"] == (bench.digest,)

    medium = tmp_path / "medium"
    medium.mkdir()
    written = write_out.run(bench.context, found.id, medium, kit_id=proved.id)
    assert written.read_back == "same"
    assert [one.sha256 for one in written.files].count(bench.digest) == 1
    assert read_back.run(medium).read_back == "same"
    original = (debian.files("ipxe-qemu") / ROMS / "efi-e1000.rom").read_bytes()
    laid = next(path for path in medium.rglob("*") if path.is_file() and path.read_bytes() == original)
    if shutil.which("sha256sum"):
        subprocess.run(["sha256sum", "--quiet", "--strict", "-c", "SHA256.SUM"], cwd=laid.parent, check=True)

    again = Bench(tmp_path / "again", bench.context.family_folders)
    accept_family.run(again.context, next(bench.context.family_folders[0].glob("*.toml")))
    index.run(again.context, [medium])
    assert chosen(again.kit(found.id)) == chosen(proved)


@pytest.mark.parametrize(("name", "code"), [
    ("efi-e1000e.rom", "other-mode"), ("pxe-e1000e.rom", "other-mode"), ("efi-pcnet.rom", "other-family"),
    ("pxe-rtl8139.rom", "other-family"), ("efi-ne2k_pci.rom", "fit-unproved"),
])
def test_every_other_cards_rom_is_refused(bench, name, code):
    """Vendor 0000h in the last one's legacy image says nothing: nothing says yes, so it asks."""
    path: Path = bench.intake / "roms" / name
    digest = sha256(path.read_bytes()).hexdigest()
    proved = bench.kit("emulated-network-card", pins=[Pin("legacy-boot-rom", digest, "tried on purpose")])
    assert proved.verdict == "not-ready"
    assert code in {one.code for one in proved.findings if one.piece == digest and one.role == "legacy-boot-rom"}


def test_the_real_rom_with_one_changed_byte_is_not_ready(bench):
    path = bench.intake / "roms" / "efi-e1000.rom"
    data = bytearray(path.read_bytes())
    data[100_000] ^= 0x40
    path.write_bytes(data)
    bench.index()
    proved = bench.kit("emulated-network-card")
    assert proved.verdict == "not-ready"
    assert ("unvouched", "uefi-boot-rom") in stops(proved)


def test_the_real_rom_cut_short_is_damaged(bench):
    path = bench.intake / "roms" / "efi-e1000.rom"
    path.write_bytes(path.read_bytes()[:-4096])
    bench.index()
    proved = bench.kit("emulated-network-card")
    assert proved.verdict == "not-ready"
    assert ("rom-damaged", "uefi-boot-rom") in stops(proved)
