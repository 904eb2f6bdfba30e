"""draft-family from folders, also hostile ones, and as an outside caller meets it (contract: command-line.md)."""

from __future__ import annotations

import hashlib
import json
import tomllib
from pathlib import Path

import pytest

from catalogue.cli import main
from catalogue.tasks.draft_family import MOST_CHOSEN
from sample_bundles import bittern, dos, eeprom
from sample_bundles.noise import noise


def call(tmp_path: Path, *words: object) -> int:
    return main(["--catalogue", str(tmp_path / "catalogue.sqlite"), "draft-family", *map(str, words)])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "good"
    made.mkdir()
    for item in (bittern.FIRMWARE, bittern.LEGACY, bittern.DOS_WRITER, bittern.release_eleven()):
        (made / item.name.rsplit("/", 1)[-1]).write_bytes(item.data)
    return made


def test_json_has_the_contract_s_keys_and_out_is_never_written_over(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "draft.toml"
    assert call(tmp_path, folder, "--out", out, "--json") == 0
    said = capsys.readouterr()
    told = json.loads(said.out)
    assert told["file"] == str(out)
    rows = out.read_text(encoding="utf-8").splitlines()
    assert told["inferred"]
    for one in told["inferred"]:
        assert rows[one["line"] - 1].endswith(f"  # from {one['from']}")
    assert {"about", "why", "how"} <= set(told["asks"][0])
    before = out.read_bytes()
    assert call(tmp_path, folder, "--out", out) == 2
    assert out.read_bytes() == before
    assert capsys.readouterr().err.count("\n") == 1
    assert not (tmp_path / "catalogue.sqlite").exists()


def test_without_out_the_draft_is_printed(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert call(tmp_path, folder) == 0
    said = capsys.readouterr()
    told = tomllib.loads(said.out)
    assert told["mode"] == {
        "id-f234-0c81": {"ids": ["F234:0C81"], "class": "010700"},
    }
    assert told["role"]["firmware"]["version"] == "CVFW {version}"
    assert len(told["release"]) == 2
    assert "questions are open" in said.err


def test_a_draft_does_not_settle(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "draft.toml"
    assert call(tmp_path, folder, "--out", out) == 0
    assert main(["--catalogue", str(tmp_path / "c.sqlite"), "accept-family", str(out)]) == 1
    assert "is still open" in capsys.readouterr().out


def test_of_an_empty_folder_nothing_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "empty").mkdir()
    assert call(tmp_path, tmp_path / "empty") == 1
    assert "role" not in tomllib.loads(capsys.readouterr().out)


@pytest.mark.parametrize("words", [("missing",), ("good", "--identity", "missing"), ("good/QHAND.EXE",),
                                   ("good", "--out", "no/such/folder.toml"), (), ("good", "--piece", "abcd"),
                                   ("--piece", "no hash"), ("--piece", "abcd1234")], ids=" ".join)  # fmt: skip
def test_a_wrong_call_is_one_line(
    words: tuple[str, ...],
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert call(tmp_path, *words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1


def test_hostile_names_texts_and_junk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad"
    bad.mkdir()
    (bad / ("n" * 200 + ".exe")).write_bytes(dos.mz('TOOL" \x1b[31m 1.2.3', noise("hostile", 4_000)))
    (bad / '"]\n[x] \x07.rom').write_bytes(bittern.LEGACY.data)
    (bad / "junk.bin").write_bytes(noise("junk", 70_000))
    (bad / "empty").write_bytes(b"")
    card = b"Berth\x07 = \"1\"\n  Address = 5F23401000001A40\x1b\n  Addr\" = 5F23401000001A40\n"
    (bad / "card.txt").write_bytes(card * 50)
    (bad / "long.txt").write_bytes(b"label = " + b"x" * 100_000 + b"\n" + b". : = " * 50_000)
    (bad / "cut.zip").write_bytes(bittern.release_eleven().data[:20_000])
    assert call(tmp_path, bad) == 0
    text = capsys.readouterr().out
    told = tomllib.loads(text)
    assert "x" not in told
    assert all(one.isprintable() for one in text.splitlines())


def test_of_chosen_pieces(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    catalogue = ["--catalogue", str(tmp_path / "catalogue.sqlite")]
    assert main([*catalogue, "index", str(folder)]) == 0
    capsys.readouterr()
    chosen = [hashlib.sha256(one.data).hexdigest() for one in (bittern.FIRMWARE, bittern.LEGACY)]
    assert call(tmp_path, "--piece", chosen[0], "--piece", chosen[1][:16]) == 0
    told = tomllib.loads(capsys.readouterr().out)
    assert told["drafted"] == {"pieces": chosen}
    assert {"firmware", "legacy-boot-rom"} == set(told["role"])


def test_each_line_leads_to_its_bytes(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The bytes at the offset of the line that gives a mode's IDs are those IDs (PCI Firmware 3.3, 5.1.2)."""
    assert call(tmp_path, folder, "--json") == 0
    lines = json.loads(capsys.readouterr().out)["inferred"]
    rom = hashlib.sha256(bittern.LEGACY.data).hexdigest()
    (ids,) = [one for one in lines if one["text"] == 'ids = ["F234:0C81"]']
    assert ids["piece"] == rom
    assert bittern.LEGACY.data[ids["offset"] :][:4] == bytes.fromhex("34F2810C")
    assert sum(bool(one["piece"]) for one in lines) > len(lines) // 2


def test_a_dump_given_as_a_file_is_no_text(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    listing = "Berth ...... 1\r\n  Quay address ..... 5F23401000001A40\r\n"
    (tmp_path / "L.TXT").write_text(listing)
    (tmp_path / "D.BIN").write_bytes(eeprom.bittern(bittern.PASS, 0x5F23401000001A40, "CB0023117"))
    assert call(tmp_path, folder, "--identity", tmp_path / "L.TXT", "--identity", tmp_path / "D.BIN") == 0
    told = tomllib.loads(capsys.readouterr().out)
    assert told["layout"]["eeprom"]["size"] == 320


def test_chosen_pieces_are_bounded(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [word for number in range(MOST_CHOSEN + 1) for word in ("--piece", f"{number:08x}")]
    assert call(tmp_path, *words) == 2
    assert str(MOST_CHOSEN) in capsys.readouterr().err
