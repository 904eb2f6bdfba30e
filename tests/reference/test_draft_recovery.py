"""How much of a shipped family a draft recovers, held to a floor; a person who answers comes to a ready kit."""

from __future__ import annotations

import struct
import tomllib
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest

from catalogue.families.drafting import answers
from catalogue.families.drafting.questions import asked
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Pin
from catalogue.tasks import accept_family, draft_family, index, kit
from catalogue.tasks.context import Context
from sample_bundles import bittern, heron, plover
from tests.reference import debian
from tests.reference.draft_answers import answered
from tests.reference.draft_recovery import FOLDERS, ROMS, drafted, real, recovered, recovered_of, totals

FLOOR = {
    (bittern.FAMILY, False): (50, 113), (bittern.FAMILY, True): (55, 113),
    (heron.FAMILY, False): (40, 116), (heron.FAMILY, True): (54, 116),
    (plover.FAMILY, False): (25, 82), (plover.FAMILY, True): (35, 82),
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


REAL_ANSWERS = {
    "title": {"title": "An emulated network card", "id": "emulated"},
    "withdrawn": None, "care-dos": "one card in the machine",
    "effects-dos-step-1": {"say": "List.", "learns": "slot, sas"},
    "effects-dos-step-2": {"say": "Save.", "saves": "flash"},
    "effects-dos-step-3": {"say": "Load.", "destroys": "flash", "writes": "flash"},
    "effects-dos-step-4": {"say": "Compare.", "checks": "flash", "then": "restart"},
    "effects-dos-step-5": {"say": "List a last time.", "compares": "mode, sas"},
}  # fmt: skip


@pytest.mark.outside
@pytest.mark.parametrize(("first", "later"), ROMS)
def test_a_family_drafted_from_real_roms_settles(first: str, later: str, tmp_path: Path) -> None:
    """Debian ipxe-qemu: two cards' ROMs stand for two modes. The folder is ready, the other ROM is stopped."""
    roms = debian.files("ipxe-qemu") / "usr/lib/ipxe/qemu"
    made, truth = real(first, later, tmp_path, roms)
    whole, _part, every = totals(recovered_of(made.text, truth))
    assert (whole, every) >= (22, 38)
    names = {tomllib.loads(truth)["mode"][name]["ids"][0]: name for name in ("first", "later")}
    text = made.text
    for _ in range(60):
        questions = asked(text)
        if not questions:
            break
        key, modes = questions[0].key, tomllib.loads(text)["mode"]
        value: object = REAL_ANSWERS.get(key)
        if key == "mode-names":
            value = {name: names[one["ids"][0]] for name, one in modes.items()}
        elif key == "direction":
            value = {"from": "later", "to": "first"}
        elif key.startswith("date-"):
            value = "2026-01-01"
        elif questions[0].form == "confirm" or key.startswith("no-"):
            value = ""
        text = answers.answer(text, key, value)  # type: ignore[arg-type]
    file = tmp_path / "drafted.toml"
    file.write_text(text, encoding="utf-8")
    done = accept_family.run(Context(str(tmp_path / "c.sqlite"), today=date(2026, 3, 2)), file)
    assert done.settled, [(one.line, one.text) for one in done.problems]
    assert done.proof is not None
    other = sha256((roms / later).read_bytes()).hexdigest()
    assert {(one.piece, "other-mode" in one.stops) for one in done.proof.counters} == {(other, True)}
