"""Kits for a machine, from outside: a host file with saved lists, a real signed driver, the command line and its JSON.

What must come out is read from judging.md ("Two hosts matter") and the UEFI Specification, section 32.5.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.contracts.test_kits_outside import Bench, rom, sound, stops, uefi
from tests.formats.build_keys import CERTIFICATE, IMAGE_SHA256, keys
from tests.formats.build_pe import MadePe, pe
from tests.formats.build_signature import ROOT, image_digest, signed_pe, who

IMAGE = MadePe(subsystem=11, machine=0x8664)
DRIVER = signed_pe(image=IMAGE)
SIGNED = rom(uefi(driver=DRIVER, blocks=5))
ON = 'schema = 1\nname = "Rack"\n[destination]\ncpu = "x86-64"\nboots = ["uefi"]\nsecure_boot = true\n'


@pytest.fixture
def bench(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Bench]:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))

    def make(changed: Mapping[str, bytes], host: str, **lists: bytes) -> Bench:
        made = Bench(tmp_path, capsys, {**sound(), **changed})
        (tmp_path / "host.toml").write_text(host)
        for name, data in lists.items():
            (tmp_path / f"{name}.esl").write_bytes(data)
        return made

    return make


def codes(kit: Mapping[str, Any], level: str) -> set[str]:
    return {one["code"] for one in kit["findings"] if one["level"] == level}


def test_without_a_host_an_unsigned_driver_is_a_caution(bench, tmp_path):
    kit = bench({}, ON).kit()
    assert kit["verdict"] == "ready"
    assert "driver-unsigned" in codes(kit, "caution")
    assert any("Not told of the destination host" in one for one in kit["said"])


def test_an_unsigned_driver_under_secure_boot_waits_for_a_word(bench, tmp_path):
    made = bench({}, ON)
    host = ["--host", str(tmp_path / "host.toml")]
    kit = made.kit(*host)
    assert stops(kit) == {("driver-unsigned", "uefi-boot-rom")}
    (found,) = [one for one in kit["findings"] if one["code"] == "driver-unsigned"]
    assert found["clearable"]
    assert {one["field"] for one in found["evidence"]} == {"signed_by", "secure_boot"}
    word = ["--word", f"driver-unsigned={found['piece']}", "--reason", "Secure Boot goes off there", "--by", "Ada"]
    assert made.kit(*host, *word)["verdict"] == "ready"


def test_a_driver_under_an_authority_of_the_db_is_taken(bench, tmp_path):
    made = bench({"uefi.rom": SIGNED}, ON + 'db = ["db.esl"]\ndbx = ["dbx.esl"]\n', db=keys(CERTIFICATE, ROOT.der),
                 dbx=keys(IMAGE_SHA256, bytes(32)))  # fmt: skip
    kit = made.kit("--host", str(tmp_path / "host.toml"))
    assert kit["verdict"] == "ready", stops(kit)
    (padding,) = [one for one in kit["findings"] if one["code"].startswith("driver-")]
    assert padding["level"] == "caution" and "padding" in padding["text"]  # its ROM fills the block up
    assert kit["host"]["name"] == "Rack"
    assert made.kit()["id"] != kit["id"]


def test_another_authority_stops_and_names_both(bench, tmp_path):
    other = who("Another Authority", 9)
    made = bench({"uefi.rom": SIGNED}, ON + 'db = ["db.esl"]\n', db=keys(CERTIFICATE, other.der))
    kit = made.kit("--host", str(tmp_path / "host.toml"))
    assert stops(kit) == {("driver-other-ca", "uefi-boot-rom")}
    (found,) = [one for one in kit["findings"] if one["code"] == "driver-other-ca"]
    assert "Saltmarsh Root" in found["text"] and "Another Authority" in found["text"]


def test_a_revoked_driver_stops_whatever_the_db_says(bench, tmp_path):
    made = bench({"uefi.rom": SIGNED}, ON + 'db = ["db.esl"]\ndbx = ["dbx.esl"]\n', db=keys(CERTIFICATE, ROOT.der),
                 dbx=keys(IMAGE_SHA256, image_digest(pe(IMAGE))))  # fmt: skip
    kit = made.kit("--host", str(tmp_path / "host.toml"))
    assert stops(kit) == {("driver-revoked", "uefi-boot-rom")}


def test_a_bit_flipped_in_a_signed_driver_is_never_ready(bench, tmp_path):
    data = bytearray(SIGNED)
    data[SIGNED.index(DRIVER) + 0x210] ^= 1
    kit = bench({"uefi.rom": bytes(data)}, ON).kit()
    assert ("signature-broken", "uefi-boot-rom") in stops(kit)


def test_a_driver_for_another_processor(bench, tmp_path):
    kit = bench({}, ON.replace("x86-64", "aarch64")).kit("--host", str(tmp_path / "host.toml"))
    assert ("wrong-cpu", "uefi-boot-rom") in stops(kit)


def test_dos_on_a_bench_without_it(bench, tmp_path):
    made = bench({}, 'schema = 1\nname = "New bench"\n[bench]\nboots = ["uefi"]\n')
    kit = made.kit("--host", str(tmp_path / "host.toml"))
    assert stops(kit) == {("bench-refuses", "writer")}


def test_a_kept_host_by_its_name_and_a_kit_by_its_id(bench, tmp_path):
    made = bench({"uefi.rom": SIGNED}, ON + 'db = ["db.esl"]\n', db=keys(CERTIFICATE, ROOT.der))
    code, kept = made.call("hosts", "--keep", str(tmp_path / "host.toml"))
    assert (code, kept["name"]) == (0, "Rack")
    (tmp_path / "host.toml").unlink()
    (tmp_path / "db.esl").unlink()
    code, known = made.call("hosts")
    assert [one["name"] for one in known] == ["Rack"]
    assert "Secure Boot on" in known[0]["destination"]
    kit = made.kit("--host", "rack")
    (tmp_path / "medium").mkdir()
    code, done = made.call("write-out", "corvane-curlew", str(tmp_path / "medium"), "--kit", kit["id"])
    assert (code, done["read_back"]) == (0, "same")
    host = Path(kept["file"])
    host.write_text(host.read_text().replace("true", "false"))
    code, done = made.call("write-out", "corvane-curlew", str(tmp_path / "medium"), "--kit", kit["id"])
    assert code == 1
    assert [one["code"] for one in done["findings"]] == ["changed-since"]


@pytest.mark.parametrize("words", [["--host", "nobody"], ["--host", "host.toml"]])
def test_a_host_that_cannot_be_used_is_a_wrong_call(bench, tmp_path, monkeypatch, words):
    made = bench({}, "schema = 1\n")
    monkeypatch.chdir(tmp_path)
    code, said = made.call("kit", "corvane-curlew", *words)
    assert code == 2
    assert said.count("\n") == 1


CARD = "Adapter\n Shows as: F234:0D80\n Quay address ... 5F23401000000018\n Runs CVFW {version}\n"


def test_a_card_that_stands_where_the_route_begins(bench, tmp_path):
    made = bench({}, ON)
    (tmp_path / "CARD.TXT").write_text(CARD.format(version="11.00.0"))
    kit = made.kit("--identity", str(tmp_path / "CARD.TXT"))
    assert kit["verdict"] == "ready", stops(kit)
    assert kit["id"] != made.kit()["id"]
    (tmp_path / "medium").mkdir()
    code, done = made.call("write-out", "corvane-curlew", str(tmp_path / "medium"), "--kit", kit["id"])
    assert (code, done["read_back"]) == (0, "same")


def test_a_card_that_does_not_is_not_written_for(bench, tmp_path):
    made = bench({}, ON)
    (tmp_path / "CARD.TXT").write_text(CARD.format(version="11.00.0").replace("0D80", "0D81"))
    kit = made.kit("--identity", str(tmp_path / "CARD.TXT"))
    assert {one["code"] for one in kit["findings"] if one["code"] == "wrong-start"} == {"wrong-start"}
    assert kit["verdict"] == "ready"  # converted already: a note
    (tmp_path / "CARD.TXT").write_text(CARD.format(version="99.0"))
    kit = made.kit("--identity", str(tmp_path / "CARD.TXT"))
    assert "older-than-card" in codes(kit, "caution")


def test_a_text_of_something_else_is_a_wrong_call(bench, tmp_path):
    made = bench({}, ON)
    (tmp_path / "CARD.TXT").write_text("a shopping list\n")
    code, said = made.call("kit", "corvane-curlew", "--identity", str(tmp_path / "CARD.TXT"))
    assert code == 2
    assert "Nothing in" in said
