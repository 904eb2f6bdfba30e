"""Kits judged from outside: family file and pieces made here by hand, the command line called, its JSON looked at.

The card, its maker, utility and strings are invented. What each case must answer is read from judging.md and
family-file.md; nothing here knows how the program comes to it.
"""

from __future__ import annotations

import hashlib
import io
import json
import random
import struct
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from catalogue.cli import main
from tests.formats.build_rom import Made, driver, efi, rom

VENDOR, RAID, PASS = 0xF234, 0x0D80, 0x0D81
MAGIC = bytes.fromhex("C01208A5")
SIZE = 320
ADDRESS = bytes.fromhex("5F23401000000010")  # NAA 5h, company ID F23401h

FAMILY = """schema = 1
id = "corvane-curlew"
title = "Corvane Curlew"
as_of = 2026-03-01
order = "numeric"
[card]
flash = 8_388_608
[mode.raid]
ids = ["F234:0D80"]
[mode.pass]
ids = ["F234:0D81"]
[identity.sas]
as = "sas-address"
ouis = ["F23401"]
find = "Quay address ~ {value}"
[role.firmware]
written = true
decide = ["hash", "has"]
has = { raid = "CURLEW RD", pass = "CURLEW PT" }
size = [16_384, 65_536]
version = "CVFW {version}"
lowest = "9.00.0"
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
[role.eeprom-image]
written = true
decide = ["layout"]
layout = "curlew"
[role.writer]
kind = { dos = "dos-program" }
decide = ["hash", "has"]
has = "QUAYHAND"
version = "QUAYHAND {version}"
with = { dos = ["QHXTEND.BIN"] }
[layout.curlew]
size = 320
magic = { at = 0, hex = "C0 12 08 A5" }
sum = { as = "sum8", from = 0, to = 0x140, total = 0 }
field = [
  { at = 0x10, as = "u16le", is = "mode.vendor" },
  { at = 0x12, as = "u16le", is = "mode.device" },
  { at = 0x40, as = "u64be", is = "identity.sas" },
]
[[release]]
name = "twelve"
date = 2026-02-10
mix = "stop"
firmware = { version = "12.04.0", same = ["0C040000"] }
writer = { from = "3.10", to = "3.99" }
[[release]]
name = "eleven"
date = 2025-02-10
mix = "stop"
firmware = { version = "11.00.0" }
writer = { from = "3.00", to = "3.99" }
[[withdrawn]]
role = "firmware"
version = "12.02.0"
why = "drops its link"
source = "maker's notice 14"
[[route]]
id = "raid-to-pass-dos"
from = "raid"
to = "pass"
bench = "dos"
needs = ["firmware", "eeprom-image", "writer", "legacy-boot-rom", "uefi-boot-rom"]
[[route.step]]
name = "list"
say = "List."
type = "{writer} look > {makes}"
makes = "CARD.TXT"
learns = ["slot", "sas"]
[[route.step]]
name = "save"
say = "Save."
type = "{writer} keep {slot} {makes}"
makes = "OLD.BIN"
saves = ["eeprom", "flash"]
[[route.step]]
name = "lay"
say = "Lay."
type = "{writer} lay {slot} {eeprom-image}"
destroys = ["eeprom"]
writes = ["eeprom"]
[[route.step]]
name = "lay-check"
say = "Read back."
type = "{writer} cfg {slot} {makes}"
makes = "NEW.BIN"
checks = ["eeprom"]
[[route.step]]
name = "load"
say = "Load."
type = "{writer} load {slot} {firmware}"
adds = ["{legacy-boot-rom}", "{uefi-boot-rom}"]
destroys = ["flash"]
writes = ["flash"]
[[route.step]]
name = "load-check"
say = "Compare."
type = "{writer} match {slot} > {makes}"
makes = "MATCH.TXT"
checks = ["flash"]
[[route.step]]
name = "name"
say = "Give it back."
type = "{writer} name {slot} {sas}"
writes = ["sas"]
then = "restart"
[[route.step]]
name = "after"
say = "List again."
type = "{writer} look > {makes}"
makes = "AFTER.TXT"
compares = ["mode", "sas"]
"""


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def noise(length: int, seed: int) -> bytes:
    return random.Random(seed).randbytes(length)


def firmware(text: bytes = b"CURLEW PT", version: bytes = b"CVFW 12.04.0", seed: int = 1) -> bytes:
    data = bytearray(noise(20_000, seed))
    for at, said in ((100, text), (300, version)):
        data[at : at + len(said) + 2] = b"\0" + said + b"\0"
    return bytes(data)


def legacy(device: int = PASS, **more: Any) -> Made:
    return Made(**{"vendor": VENDOR, "device": device, "pcir_at": 0x40, **more})


def uefi(device: int = PASS, **more: Any) -> Made:
    return efi(**{"vendor": VENDOR, "device": device, **more})


def eeprom(device: int = PASS, extra: Mapping[int, bytes] | None = None, magic: bytes = MAGIC) -> bytes:
    data = bytearray(SIZE)
    data[:4] = magic
    struct.pack_into("<HH", data, 0x10, VENDOR, device)
    data[0x20:0x2B] = b"boardconfig"
    for at, said in (extra or {}).items():
        data[at : at + len(said)] = said
    data[-1] = -sum(data[:-1]) & 0xFF
    return bytes(data)


def utility(version: bytes = b"QUAYHAND 3.40") -> bytes:
    body = bytearray(noise(1_200, 9))
    body[200 : 202 + len(version)] = b"\0" + version + b"\0"
    size = 64 + len(body)
    head = struct.pack("<2s3H", b"MZ", size % 512, -(-size // 512), 0) + struct.pack("<H", 4)
    return head.ljust(0x18, b"\0") + struct.pack("<H", 0x1C) + bytes(0x26) + bytes(body)


def elf(text: bytes) -> bytes:
    """A 64-bit x86 ELF program of no named system, with `text` in its one segment (gABI, from memory)."""
    head = b"\x7fELF\x02\x01\x01".ljust(16, b"\0")
    head += struct.pack("<HHIQQQIHHHHHH", 2, 62, 1, 0x400000, 64, 0, 0, 64, 56, 1, 0, 0, 0)
    return (
        head
        + struct.pack("<IIQQQQQQ", 1, 5, 0, 0x400000, 0x400000, 300, 300, 0x1000)
        + (b"\0" + text).ljust(180, b"\0")
    )


def zipped(members: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


def sound() -> dict[str, bytes]:
    return {
        "fw.bin": firmware(),
        "leg.rom": rom(legacy()),
        "uefi.rom": rom(uefi()),
        "eep.bin": eeprom(),
        "QH.EXE": utility(),
        "QHXTEND.BIN": noise(500, 3),
    }


class Bench:
    """A folder, a family and a catalogue of their own, with a recorded list that names every binary of the folder."""

    def __init__(
        self, folder: Path, capsys: pytest.CaptureFixture[str], files: Mapping[str, bytes], family: str = FAMILY
    ) -> None:
        self.folder, self.capsys = folder, capsys
        for name, data in files.items():
            (folder / "in" / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / "in" / name).write_bytes(data)
        (folder / "families").mkdir()
        (folder / "families" / "curlew.toml").write_text(family, encoding="utf-8")
        named = [f"{sha(data)}  {name}\n" for name, data in files.items() if not name.endswith((".zip", ".sum"))]
        (folder / "maker.sha256").write_text("".join(named), encoding="utf-8")
        assert self.call("accept-family", str(folder / "families" / "curlew.toml"))[0] == 0
        assert self.call("index", str(folder / "in"))[0] == 0
        self.call("vouch", "--list", str(folder / "maker.sha256"), "--source", "maker's page", "--by", "Ada")

    def call(self, *words: str) -> tuple[int, Any]:
        where = ["--catalogue", str(self.folder / "c.sqlite"), "--families", str(self.folder / "families")]
        code = main([*where, *words, "--json"])
        said = self.capsys.readouterr()
        return code, json.loads(said.out) if said.out else said.err

    def kit(self, *words: str) -> dict[str, Any]:
        code, kit = self.call("kit", "corvane-curlew", *words)
        assert code == (0 if kit["verdict"] == "ready" else 1)
        return dict(kit)


def stops(kit: Mapping[str, Any]) -> set[tuple[str, str]]:
    return {(one["code"], one["role"]) for one in kit["findings"] if one["level"] == "stop"}


@pytest.fixture
def bench(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., Bench]:
    def make(changed: Mapping[str, bytes | None] | None = None, family: str = FAMILY) -> Bench:
        files = {**sound(), **(changed or {})}
        return Bench(tmp_path, capsys, {name: data for name, data in files.items() if data is not None}, family)

    return make


def test_the_sound_kit_is_ready(bench: Callable[..., Bench]) -> None:
    kit = bench().kit()
    assert kit["verdict"] == "ready", stops(kit)
    needs = ["firmware", "eeprom-image", "writer", "legacy-boot-rom", "uefi-boot-rom"]
    assert [one["role"] for one in kit["roles"]] == needs


REFUSED: dict[str, tuple[str, dict[str, bytes | None]]] = {
    "the other mode's string in UTF-16": ("other-mode", {"fw.bin": firmware("CURLEW RD".encode("utf-16le"))}),
    "a letter behind the string": ("role-empty", {"fw.bin": firmware(b"CURLEW PTX")}),
    "a digit before the string": ("role-empty", {"fw.bin": firmware(b"1CURLEW PT")}),
    "below the lowest": ("below-lowest", {"fw.bin": firmware(version=b"CVFW 8.99.9")}),
    "withdrawn, spelt otherwise": ("withdrawn", {"fw.bin": firmware(version=b"CVFW 12.2.0")}),
    "a byte under the least size": ("wrong-size", {"fw.bin": firmware()[:16_383]}),
    "another mode's ROM": ("other-mode", {"leg.rom": rom(legacy(RAID))}),
    "the wanted image behind a last one": ("image-hidden", {"leg.rom": rom(legacy(RAID), legacy())}),
    "a device list in revision 0 is none": (
        "role-empty",
        {"leg.rom": rom(legacy(0x1234, revision=0, extra={0x48: b"\x18\0", 0x58: struct.pack("<HH", PASS, 0)}))},
    ),
    "an application in the ROM": ("wrong-kind", {"uefi.rom": rom(uefi(subsystem=10))}),
    "a Windows program in the ROM": ("wrong-kind", {"uefi.rom": rom(uefi(subsystem=3, driver=driver(subsystem=3)))}),
    "header and driver for two machines": ("wrong-cpu", {"uefi.rom": rom(uefi(machine=0x14C, driver=driver()))}),
    "another maker's image joined": ("images-disagree", {"leg.rom": rom(legacy(last=False), uefi(vendor=0xF567))}),
    "the EEPROM image with an address": ("foreign-identity", {"eep.bin": eeprom(extra={0x40: ADDRESS})}),
    "the address elsewhere, turned round": ("foreign-identity", {"eep.bin": eeprom(extra={0x90: ADDRESS[::-1]})}),
    "the EEPROM image twice": ("bytes-swapped", {"eep.bin": eeprom() * 2}),
    "a byte too many": ("wrong-size", {"eep.bin": eeprom() + b"\0"}),
    "a utility one step too old": ("tool-too-old", {"QH.EXE": utility(b"QUAYHAND 3.09")}),
    "an ELF file called COM": ("wrong-kind", {"QH.EXE": None, "QH.COM": elf(b"QUAYHAND 3.40")}),
    "a text called COM": ("wrong-kind", {"QH.EXE": None, "QH.COM": b"QUAYHAND 3.40 comes in another file.\r\n" * 9}),
    "the companion in another folder": (
        "companion-missing",
        {"QHXTEND.BIN": None, "other/QHXTEND.BIN": noise(500, 3)},
    ),
    "a companion of FFh": ("blank", {"QHXTEND.BIN": b"\xff" * 500}),
    "an empty companion": ("blank", {"QHXTEND.BIN": b""}),
    "a web page for a companion": ("wrong-kind", {"QHXTEND.BIN": b"<!DOCTYPE html><html><body>404</body></html>"}),
    "a list inside the archive speaks against it": (
        "contradicted",
        {"fw.bin": None, "a.zip": zipped({"fw.bin": firmware(), "SHA256SUMS": sha(b"x").encode() + b"  fw.bin\n"})},
    ),
    "a list with backslashes, capitals, CR LF": (
        "contradicted",
        {"fw.bin": None, "b/fw.bin": firmware(), "all.sum": sha(b"x").upper().encode() + b" *.\\b\\FW.BIN\r\n"},
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_speaks_against_a_piece_stops_the_kit(name: str, bench: Callable[..., Bench]) -> None:
    code, changed = REFUSED[name]
    kit = bench(changed).kit()
    assert kit["verdict"] == "not-ready"
    assert code in {one for one, _role in stops(kit)}


SOUND: dict[str, dict[str, bytes | None]] = {
    "both modes' strings": {"fw.bin": firmware(b"CURLEW RD\0CURLEW PT")},
    "packed version": {"fw.bin": firmware(version=b"CVFW 0C040000")},
    "the last image bit missing": {"leg.rom": rom(legacy(last=False))},
    "FFh behind the end": {"leg.rom": rom(legacy()) + b"\xff" * 4_096},
    "several CPUs": {"uefi.rom": rom(uefi(machine=0x14C, last=False), uefi())},
    "one joined ROM for two roles": {"leg.rom": rom(legacy(last=False), uefi()), "uefi.rom": None},
    "a sibling's device list": {
        "leg.rom": rom(legacy(0x1234, devices=(PASS,), last=False), uefi(0x1234)),
        "uefi.rom": None,
    },
    "a companion in small letters": {"QHXTEND.BIN": None, "qhxtend.bin": noise(500, 3)},
    "utility and companion in one archive": {
        "QH.EXE": None,
        "QHXTEND.BIN": None,
        "u.zip": zipped({"bin/QH.EXE": utility(), "QHXTEND.BIN": noise(500, 3)}),
    },
    "a list of another bundle": {"other/all.sum": sha(b"x").encode() + b"  fw.bin\n"},
    "a newer piece beyond all known": {"other/fw.bin": firmware(version=b"CVFW 99.00.0", seed=2)},
    "a COM program": {"QH.EXE": None, "QH.COM": b"\xe9\x20\0" + noise(60, 4) + b"\0QUAYHAND 3.40\0" + noise(90, 5)},
}


@pytest.mark.parametrize("name", SOUND)
def test_a_sound_kit_stays_ready(name: str, bench: Callable[..., Bench]) -> None:
    kit = bench(SOUND[name]).kit()
    assert kit["verdict"] == "ready", stops(kit)


def test_withdrawn_bytes_of_a_companion_stop_until_a_word(bench: Callable[..., Bench]) -> None:
    taken_back = noise(500, 3)
    more = f'role = "writer"\nsha256 = "{sha(taken_back)}"\nwhy = "hangs"\nsource = "maker\'s notice 15"\n'
    at = bench(family=FAMILY.replace("[[route]]", f"[[withdrawn]]\n{more}[[route]]"))
    assert ("withdrawn", "writer") in stops(at.kit())
    kit = at.kit("--word", f"withdrawn={sha(taken_back)}", "--reason", "tried it", "--by", "Ada")
    assert kit["verdict"] == "ready", stops(kit)


def test_no_word_lets_another_cards_address_through(bench: Callable[..., Bench]) -> None:
    """The image lacks the layout's magic; a person pins it and clears `fit-unproved`. Its address still stops it."""
    dump = eeprom(extra={0x80: ADDRESS}, magic=b"\1\2\3\4")
    plain = eeprom(magic=b"\1\2\3\4")
    at = bench({"dump.bin": dump, "plain.bin": plain})

    def pinned(piece: bytes) -> dict[str, Any]:
        word = ("--word", f"fit-unproved={sha(piece)}", "--reason", "mine", "--by", "Ada")
        return at.kit("--pin", f"eeprom-image={sha(piece)}", *word)

    assert ("foreign-identity", "eeprom-image") in stops(pinned(dump))
    assert pinned(plain)["verdict"] == "ready"


def test_two_words_on_one_written_piece_never_both_count(bench: Callable[..., Bench]) -> None:
    at = bench()
    nameless = rom(legacy(vendor=0))
    (at.folder / "in" / "other").mkdir()
    (at.folder / "in" / "other" / "x.rom").write_bytes(nameless)
    at.call("index", str(at.folder / "in"))
    pin = ("--pin", f"legacy-boot-rom={sha(nameless)}", "--reason", "mine", "--by", "Ada")
    for code in ("fit-unproved", "unvouched"):
        kit = at.kit(*pin, "--word", f"{code}={sha(nameless)}")
        assert kit["verdict"] == "not-ready"
    assert len(stops(kit)) == 1


def test_a_tie_of_companions_is_settled_as_its_remedy_says(bench: Callable[..., Bench]) -> None:
    one, other = noise(500, 3), noise(500, 4)
    split = {"QH.EXE": None, "QHXTEND.BIN": None, "a/QH.EXE": utility(), "b/QH.EXE": utility()}
    at = bench({**split, "a/QHXTEND.BIN": one, "b/QHXTEND.BIN": other})
    kit = at.kit()
    ties = [finding for finding in kit["findings"] if finding["code"] == "ambiguous"]
    assert {finding["piece"] for finding in ties} == {sha(one), sha(other)}
    assert all("give the word ambiguous" in finding["remedy"] for finding in ties)
    kit = at.kit("--word", f"ambiguous={sha(other)}", "--reason", "newer", "--by", "Ada")
    assert kit["verdict"] == "ready", stops(kit)
    assert next(role for role in kit["roles"] if role["role"] == "writer")["pieces"] == [sha(utility()), sha(other)]


def test_any_changed_byte_of_a_written_piece_is_seen(bench: Callable[..., Bench]) -> None:
    """Bits at random offsets, by a seed; the list still names the whole pieces, and the changed one lies alone."""
    at = bench()
    picked = random.Random(11)
    for name in ("fw.bin", "leg.rom", "uefi.rom", "eep.bin"):
        whole = sound()[name]
        changed = bytearray(whole)
        changed[picked.randrange(len(changed))] ^= 1 << picked.randrange(8)
        (at.folder / "in" / name).write_bytes(changed)
        at.call("index", str(at.folder / "in"))
        assert at.kit()["verdict"] == "not-ready", name
        (at.folder / "in" / name).write_bytes(whole)
        at.call("index", str(at.folder / "in"))
        assert at.kit()["verdict"] == "ready", name
