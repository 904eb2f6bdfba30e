"""How much of a shipped family a draft recovers, held to a floor; a person who answers comes to a ready kit."""

from __future__ import annotations

import struct
import tomllib
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest

from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Pin
from catalogue.tasks import accept_family, draft_family, index, kit
from catalogue.tasks.context import Context
from sample_bundles import bittern, heron, plover
from tests.reference import debian
from tests.reference.draft_answers import answered
from tests.reference.draft_recovery import FOLDERS, drafted, recovered, totals

FLOOR = {
    (bittern.FAMILY, False): (50, 113), (bittern.FAMILY, True): (55, 113),
    (heron.FAMILY, False): (39, 116), (heron.FAMILY, True): (53, 116),
    (plover.FAMILY, False): (25, 82), (plover.FAMILY, True): (33, 82),
}  # fmt: skip
"""Lines recovered whole, of all with a value; what is left is asked, or is a name."""


@pytest.mark.parametrize("papers", [False, True])
@pytest.mark.parametrize("family", FOLDERS)
def test_what_a_draft_recovers(family: str, papers: bool, tmp_path: Path) -> None:
    whole, _part, every = totals(recovered(drafted(family, tmp_path, papers=papers).text, family))
    least, lines = FLOOR[family, papers]
    assert every == lines
    assert whole >= least


def test_a_person_who_answers_comes_to_a_ready_kit_and_the_other_mode_is_stopped(tmp_path: Path) -> None:
    made = drafted(bittern.FAMILY, tmp_path, papers=True)
    families = tmp_path / "families"
    families.mkdir()
    file = families / "drafted.toml"
    file.write_text(answered(made.text, bittern.FAMILY), encoding="utf-8")
    context = Context(str(tmp_path / "c.sqlite"), (families,), today=date(2026, 3, 2))
    accepted = accept_family.run(context, file)
    assert accepted.problems == ()
    assert accepted.settled
    index.run(context, [tmp_path / "downloads"])
    for route in ("log-dos", "log-uefi"):
        proved = kit.run(context, accepted.id, route)
        assert proved.verdict == "ready", [(one.code, one.role, one.text) for one in proved.findings]
        for role, other in (("legacy-boot-rom", bittern.RAID_LEGACY), ("firmware", bittern.RAID_FIRMWARE),
                            ("eeprom-image", bittern.RAID_EEPROM)):  # fmt: skip
            pin = Pin(role, sha256(other.data).hexdigest(), "to see it refused")
            stopped = kit.run(context, accepted.id, route, pins=[pin])
            codes = {one.code for one in stopped.findings if one.level == Level.STOP and one.role == role}
            assert "other-mode" in codes, (role, stopped.findings)


def test_the_same_with_one_question_left_does_not_settle(tmp_path: Path) -> None:
    made = drafted(bittern.FAMILY, tmp_path, papers=True)
    text = answered(made.text, bittern.FAMILY).replace("asks = [\n", 'asks = [\n  "ran",\n', 1)
    file = tmp_path / "drafted.toml"
    file.write_text(text, encoding="utf-8")
    accepted = accept_family.run(Context(str(tmp_path / "c.sqlite")), file)
    assert not accepted.settled
    assert len(accepted.problems) == 1
    assert '"ran" is still open' in accepted.problems[0].text


@pytest.mark.outside
@pytest.mark.parametrize(
    ("package", "rom"),
    [
        ("ipxe-qemu", "usr/lib/ipxe/qemu/efi-e1000.rom"),
        ("ipxe-qemu", "usr/lib/ipxe/qemu/efi-virtio.rom"),
        ("seabios", "usr/share/seabios/vgabios-qxl.bin"),
        ("seabios", "usr/share/seabios/vgabios-cirrus.bin"),
    ],
)
def test_a_real_rom_gives_its_ids_and_the_rest_is_asked(package: str, rom: str, tmp_path: Path) -> None:
    """Debian packages ipxe-qemu and seabios. The IDs wanted are read here by the PCI Firmware Specification: the word
    at 18h leads to "PCIR", behind which vendor and device stand, little-endian."""
    folder = tmp_path / "roms"
    folder.mkdir()
    data = (debian.files(package) / rom).read_bytes()
    (folder / Path(rom).name).write_bytes(data)
    mark, vendor, device = struct.unpack_from("<4sHH", data, struct.unpack_from("<H", data, 0x18)[0])
    assert mark == b"PCIR"
    made = draft_family.run(Context(str(tmp_path / "c.sqlite")), folder)
    told = tomllib.loads(made.text)
    (mode,) = told["mode"].values()
    assert mode["ids"] == [f"{vendor:04X}:{device:04X}"]
    assert "legacy-boot-rom" in told["role"]
    assert ("uefi-boot-rom" in told["role"]) is ("/efi-" in rom)
    keys = {one.key for one in made.asks}
    assert {"title", "tell-apart", "identity", "no-firmware", "no-writer", "route", "direction"} <= keys
    assert "layout" not in told
