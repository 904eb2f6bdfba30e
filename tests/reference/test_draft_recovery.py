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
from tests.reference.draft_recovery import FOLDERS, drafted, recovered, shipped, totals

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


def answer(text: str, key: str, *lines: str) -> str:
    """The draft with a question answered: the lines below it, its name taken out of `asks`."""
    rows = text.splitlines()
    rows.remove(f'  "{key}",')
    at = next(n for n, row in enumerate(rows) if row.startswith(f"# ask: {key}: "))
    return "\n".join([*rows[: at + 3], *lines, *rows[at + 3 :]]) + "\n"


def section(truth: str, begins: str, ends: str) -> list[str]:
    """Lines of the shipped file, which a person knows."""
    rows = truth.splitlines()
    first = next(n for n, row in enumerate(rows) if row.startswith(begins))
    last = next(n for n, row in enumerate(rows) if n > first and row.startswith(ends))
    return rows[first:last]


def answered(text: str) -> str:
    """The Bittern's draft with every question answered out of the shipped file."""
    truth = shipped(bittern.FAMILY)
    for name, mode in (("id-f234-0c80", "raid"), ("id-f234-0c81", "pass")):
        text = text.replace(f"[mode.{name}]", f"[mode.{mode}]")
    text = answer(text, "title", 'title = "Corvane Bittern, as drafted"')
    text = answer(text, "flash", *section(truth, "flash =", "[mode"))
    text = answer(text, "state", *section(truth, "[state.bare]", "[listing]"))
    text = answer(text, "span-sas", "span = 8")
    text = answer(text, "has-firmware", *section(truth, "has = {", "version"))
    firmware = text.index("[role.firmware]")
    text = text[:firmware] + text[firmware:].replace('decide = ["hash"]', 'decide = ["hash", "has"]', 1)
    text = answer(text, "lowest-firmware", 'lowest = "9.00.0"')
    text = answer(text, "date-2", "date = 2025-06-17")
    text = answer(text, "withdrawn", *section(truth, "[[withdrawn]]", "[[route]]"))
    for bench in ("dos", "uefi"):
        text = answer(text, f"modes-{bench}", 'from = "raid"', 'to = "pass"')
        told = truth[truth.index(f'id = "raid-to-pass-{bench}"') :]
        rows = text.splitlines()
        first = next(n for n, row in enumerate(rows) if row.startswith(f"# ask: effects-{bench}")) + 3
        last = rows.index("]", first)
        text = "\n".join([*rows[:first], *section(told, "step = [", "]"), *rows[last:]]) + "\n"
        text = answer(text, f"effects-{bench}")
    for key in tomllib.loads(text)["asks"]:  # the rest: left as it is, which each question allows
        text = answer(text, key)
    return text


def test_a_person_who_answers_comes_to_a_ready_kit_and_the_other_mode_is_stopped(tmp_path: Path) -> None:
    made = drafted(bittern.FAMILY, tmp_path, papers=True)
    families = tmp_path / "families"
    families.mkdir()
    file = families / "drafted.toml"
    file.write_text(answered(made.text), encoding="utf-8")
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
    text = answered(made.text).replace("asks = [\n", 'asks = [\n  "ran",\n', 1)
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
