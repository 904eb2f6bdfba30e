"""The trade's figures, as check values of a test family made for them.

All of these are common practice, no published source: one older generation's configuration EEPROM image is 256 bytes,
the next one's 448, and the size must fit exactly; a blank one makes the card vanish and is refused; a serial number
printed with leading zeros is typed back without them. They live in family files only, never in code. The maker, IDs
and layouts of these two families are invented.
"""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import pytest

from catalogue.tasks import accept_family, write_out
from sample_bundles import dos
from sample_bundles.firmware import firmware
from sample_bundles.item import Item
from sample_bundles.noise import noise
from tests.reference.demo_bench import Bench, chosen, digest, lay, stops

OLDER, NEWER = 256, 448
MAGIC = {OLDER: bytes.fromhex("51A00256"), NEWER: bytes.fromhex("51A00448")}

FAMILY = """\
schema = 1
id = "trade-{size}"
title = "Trade figures, {size} bytes"
as_of = 2026-03-01
order = "numeric"
[card]
controllers = 1
[mode.one]
ids = ["F234:0E10"]
[mode.two]
ids = ["F234:0E11"]
[listing]
block = "Berth ~ {{slot}}"
[identity.serial]
as = "text"
find = "Hull number ~ {{value}}"
typed = ["strip-zeros"]
[role.firmware]
written = true
decide = ["hash", "has"]
has = {{ one = "TRADE ONE", two = "TRADE TWO" }}
[role.eeprom-image]
written = true
decide = ["layout"]
layout = "settings"
[role.writer]
kind = {{ dos = "dos-program" }}
decide = ["has"]
has = "TRADEHAND"
[layout.settings]
size = {size}
magic = {{ at = 0, hex = "{magic}" }}
field = [
  {{ at = 0x10, as = "u16le", is = "mode.vendor" }},
  {{ at = 0x12, as = "u16le", is = "mode.device" }},
  {{ at = 0x20, as = "ascii", length = 12, is = "identity.serial" }},
]
[[release]]
name = "one"
date = 2026-01-01
mix = "stop"
firmware = {{ sha256 = ["{firmware}"] }}
eeprom-image = {{ sha256 = ["{image}"] }}
[[route]]
id = "one-to-two"
from = "one"
to = "two"
bench = "dos"
needs = ["firmware", "eeprom-image", "writer"]
may = []
care = ["one card in the machine"]
unchecked = []
step = [
  {{ name = "list", say = "List.", type = "{{writer}} look > {{makes}}", makes = "CARD.TXT", learns = ["slot", "serial"] }},
  {{ name = "save", say = "Save.", type = "{{writer}} keep {{slot}} {{makes}}", makes = "OLD.BIN", saves = ["eeprom", "flash"] }},
  {{ name = "lay", say = "Lay the image.", type = "{{writer}} lay {{slot}} {{eeprom-image}}", destroys = ["eeprom"], writes = ["eeprom"] }},
  {{ name = "lay-check", say = "Read it back.", type = "{{writer}} cfg {{slot}} {{makes}}", makes = "NEW.BIN", checks = ["eeprom"], expects = {{ same-as = "eeprom-image" }} }},
  {{ name = "load", say = "Load.", type = "{{writer}} load {{slot}} {{firmware}}", destroys = ["flash"], writes = ["flash"] }},
  {{ name = "load-check", say = "Compare.", type = "{{writer}} match {{slot}} > {{makes}}", makes = "MATCH.TXT", checks = ["flash"] }},
  {{ name = "name", say = "Give the serial number back.", type = "{{writer}} name {{slot}} {{serial}}", writes = ["serial"], then = "restart" }},
  {{ name = "after", say = "List a last time.", type = "{{writer}} look > {{makes}}", makes = "AFTER.TXT", compares = ["mode", "serial"] }},
]
"""  # noqa: E501


def image(size: int, length: int | None = None) -> bytes:
    data = bytearray(noise(f"trade {size}", 1024))
    data[0:4] = MAGIC[size]
    data[0x10:0x14] = bytes.fromhex("34f2110e")
    data[0x20:0x2C] = bytes(12)
    return bytes(data[: size if length is None else length])


FIRMWARE = Item("TRADE.FW", firmware(("TRADE TWO",), 0x0100_0000, 40_000, "trade"))
WRITER = Item("TRHAND.EXE", dos.mz("TRADEHAND 1.00", noise("trade writer", 3_000)))


def bench(folder: Path, size: int, candidate: bytes) -> Bench:
    families = folder / "families"
    families.mkdir()
    file = families / f"trade-{size}.toml"
    file.write_text(FAMILY.format(size=size, magic=MAGIC[size].hex(), firmware=digest(FIRMWARE),
                                  image=sha256(image(size)).hexdigest()))
    one = Bench(folder, (families,))
    accepted = accept_family.run(one.context, file)
    assert accepted.settled, accepted.problems
    lay((FIRMWARE, WRITER, Item("SETTINGS.BIN", candidate)), one.intake)
    one.index()
    return one


@pytest.mark.parametrize("size", [OLDER, NEWER])
def test_the_exact_size_is_taken(tmp_path, size):
    proved = bench(tmp_path, size, image(size)).kit(f"trade-{size}")
    assert stops(proved) == set()
    assert proved.verdict == "ready"
    assert chosen(proved)["eeprom-image"] == (sha256(image(size)).hexdigest(),)


@pytest.mark.parametrize(("size", "length"), [
    (OLDER, 255), (OLDER, 257), (OLDER, NEWER), (OLDER, 512), (NEWER, 447), (NEWER, 449), (NEWER, OLDER), (NEWER, 512),
])
def test_any_other_size_is_refused(tmp_path, size, length):
    proved = bench(tmp_path, size, image(size, length)).kit(f"trade-{size}")
    assert proved.verdict == "not-ready"
    assert ("wrong-size", "eeprom-image") in stops(proved)


@pytest.mark.parametrize("size", [OLDER, NEWER])
@pytest.mark.parametrize("fill", [0x00, 0xFF])
def test_a_blank_one_is_refused(tmp_path, size, fill):
    proved = bench(tmp_path, size, bytes([fill]) * size).kit(f"trade-{size}")
    assert proved.verdict == "not-ready"
    assert ("blank", "eeprom-image") in stops(proved)


@pytest.mark.parametrize(("size", "other"), [(OLDER, NEWER), (NEWER, OLDER)])
def test_the_other_generations_image_is_no_candidate(tmp_path, size, other):
    """Another magic and another size: it is not even near."""
    proved = bench(tmp_path, size, image(other)).kit(f"trade-{size}")
    assert stops(proved) == {("role-empty", "eeprom-image")}


def test_the_run_sheet_says_that_leading_zeros_are_not_typed(tmp_path):
    one = bench(tmp_path, OLDER, image(OLDER))
    medium = tmp_path / "medium"
    medium.mkdir()
    assert write_out.run(one.context, "trade-256", medium).read_back == "same"
    sheet = next(medium.rglob("RUNSHEET.TXT")).read_text(encoding="ascii")
    assert "without leading zeros" in " ".join(sheet.split())
