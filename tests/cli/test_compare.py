"""`compare A B` as an outside caller meets it (contract: command-line.md)."""

from __future__ import annotations

import json
import os
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from catalogue.cli import main
from catalogue.cli.commands.compare import MOST_LINES
from catalogue.comparing.bounds import SHOWN_BYTES
from sample_bundles import eeprom
from tests.formats.build_rom import Made, efi, rom

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def call(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    def calling(*arguments: str | Path) -> tuple[int, str, str]:
        code = main(["--catalogue", str(tmp_path / "c.db"), *map(os.fspath, arguments)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return calling


def made(folder: Path, name: str, data: bytes) -> Path:
    (folder / name).write_bytes(data)
    return folder / name


def differs(call: Call, a: str | Path, b: str | Path) -> dict[str, Any]:
    code, out, err = call("compare", "--json", a, b)
    assert code == 1, err
    answer: dict[str, Any] = json.loads(out)
    assert answer["same"] is False
    return answer


def test_two_roms_by_field_and_by_byte(call: Call, tmp_path: Path) -> None:
    """The contract's keys; what stands in the files is what they were built with (tests/formats/build_rom.py)."""
    one = rom(Made(last=False, code_revision=0x0102), efi())
    other = rom(Made(last=False, code_revision=0x0203, class_code=0x010400), efi())
    answer = differs(call, made(tmp_path, "a.rom", one), made(tmp_path, "b.rom", other))
    assert {"same", "fields", "ranges"} <= set(answer)
    told = {(row["part"], row["name"]): (row["a"], row["b"]) for row in answer["fields"]}
    assert told["legacy x86", "code_revision"] == (0x0102, 0x0203)
    assert told["legacy x86", "class_code"] == (0x010700, 0x010400)
    assert all(part.startswith("legacy x86") for part, _ in told)
    differing = {at for at in range(len(one)) if one[at] != other[at]}
    covered = set()
    for row in answer["ranges"]:
        assert {"offset", "length", "a", "b"} <= set(row)
        begin, end = row["offset"], row["offset"] + row["length"]
        assert (row["a"], row["b"]) == (one[begin:end].hex(), other[begin:end].hex())
        covered |= set(range(begin, end))
        assert row["where"]
    assert differing <= covered
    assert answer["bytes_differing"] == len(differing)
    named = {where["name"] for row in answer["ranges"] for where in row["where"]}
    assert {"code_revision", "class_code"} <= named


def test_the_same_bytes_are_the_same_by_path_and_by_hash(call: Call, tmp_path: Path) -> None:
    one, other = made(tmp_path, "a.rom", rom(Made())), made(tmp_path, "b.rom", rom(Made()))
    code, out, _ = call("compare", one, other)
    assert code == 0
    assert "Every byte is the same" in out
    assert call("index", tmp_path)[0] == 0
    sha256 = json.loads(call("pieces", "--kind", "option-rom/legacy-x86", "--json")[1])[0]["sha256"]
    code, out, _ = call("compare", "--json", sha256[:10], one)
    answer = json.loads(out)
    assert (code, answer["same"], answer["fields"], answer["ranges"]) == (0, True, [], [])
    assert answer["a"]["sha256"] == sha256


def test_a_faulty_file_asked_for_by_name_is_exit_1_even_where_it_is_the_same(call: Call, tmp_path: Path) -> None:
    """command-line.md: "1 done, and something is wrong with what was looked at (… a faulty file asked for by name)"."""
    broken = made(tmp_path, "a.rom", rom(Made(fix_sum=False)))
    code, out, _ = call("compare", broken, broken)
    assert code == 1
    assert "A fault of A" in out


def test_two_eeprom_images_by_the_layout_of_a_loaded_family(call: Call, tmp_path: Path) -> None:
    """Offsets are those of resources/families/corvane-bittern.toml."""
    a = eeprom.bittern(0x0C80, 0x5F23401000000010, "SMC0017")
    b = bytearray(eeprom.bittern(0x0C81, 0x5F23401000000020, "SMC0017"))
    b[-1] ^= 1
    answer = differs(call, made(tmp_path, "a.bin", a), made(tmp_path, "b.bin", bytes(b)))
    assert answer["layout"] == "corvane-bittern, layout bittern"
    told = {row["name"]: (row["a"], row["b"]) for row in answer["fields"]}
    assert told["mode.device"] == (0x0C80, 0x0C81)
    assert told["identity.sas"] == (0x5F23401000000010, 0x5F23401000000020)
    assert told["sum_ok"] == (True, False)
    assert "identity.serial" not in told
    assert "fault eeprom-sum" in told
    where = {(row["offset"], at["name"]) for row in answer["ranges"] for at in row["where"]}
    assert (0x12, "mode.device") in where
    assert (0x47, "identity.sas") in where


def test_an_eeprom_image_against_a_blank_and_against_noise(call: Call, tmp_path: Path) -> None:
    image = made(tmp_path, "a.bin", eeprom.bittern(0x0C80, 0x5F23401000000010, "SMC0017"))
    blank = differs(call, image, made(tmp_path, "b.bin", b"\xff" * 320))
    assert "fault blank" in {row["name"] for row in blank["fields"]}
    noise = differs(call, image, made(tmp_path, "c.bin", bytes(range(1, 200))))
    assert ("kind", "eeprom-image", "opaque") in {(row["name"], row["a"], row["b"]) for row in noise["fields"]}


def test_bytes_put_in_and_a_cut_file(call: Call, tmp_path: Path) -> None:
    whole = bytes(range(256)) * 40
    longer = whole[:5_000] + b"Saltmarsh" + whole[5_000:]
    answer = differs(call, made(tmp_path, "a.bin", whole), made(tmp_path, "b.bin", longer))
    assert [(one["offset"], one["length"], one["a"]) for one in answer["ranges"]] == [(5_000, 9, "")]
    assert bytes.fromhex(answer["ranges"][0]["b"]) == b"Saltmarsh"
    cut = differs(call, tmp_path / "a.bin", made(tmp_path, "c.bin", whole[:9_000]))
    only = cut["ranges"][0]
    assert (only["offset"], only["length"], only["b"], only["cut"]) == (9_000, len(whole) - 9_000, "", True)
    assert only["a"] == whole[9_000 : 9_000 + SHOWN_BYTES].hex()
    _, out, _ = call("compare", tmp_path / "a.bin", tmp_path / "c.bin")
    assert "that only A has" in out


def test_for_a_person_it_is_short_and_escaped(call: Call, tmp_path: Path) -> None:
    a = made(tmp_path, "a\x1b[2J.txt", b"%d line\n" * 50)
    b = made(tmp_path, "b.txt", b"".join(b"%d line of text that differs\n" % number for number in range(400)))
    code, out, _ = call("compare", a, b)
    assert code == 1
    assert "\x1b" not in out
    assert out.count("\n    A has") <= MOST_LINES
    assert len(out.splitlines()) < 4 * MOST_LINES
    assert not any(line.startswith(("+", "-", "@@", "<", ">")) for line in out.splitlines())


@pytest.mark.parametrize("words", [("compare",), ("compare", "x"), ("compare", "", "x"), ("compare", "nothere", "x")])
def test_a_wrong_call_is_exit_2_in_one_line(words: tuple[str, ...], call: Call) -> None:
    code, out, err = call(*words)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_a_file_that_cannot_be_read_is_exit_3(call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = made(tmp_path, "a.bin", b"one")

    def refuse(self: Path, *args: object, **kinds: object) -> object:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    code, out, err = call("compare", "--json", one, one)
    assert (code, out) == (3, "")
    assert "cannot be read" in err


def test_help_says_what_is_shown(call: Call) -> None:
    said = " ".join(call("compare", "--help")[1].split())
    assert f"first {SHOWN_BYTES} bytes" in said
    assert "1 A and B differ" in said


def _zipped(path: Path, files: dict[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)


OLD = {"fw.bin": b"firmware 11" * 50, "notes.txt": b"old notes\n", "a/rom.rom": b"rom" * 99, "gone.bin": b"gone" * 9}
NEW = {"fw.bin": b"firmware 12" * 50, "notes.txt": b"old notes\n", "b/rom.rom": b"rom" * 99, "new.bin": b"new" * 9}
STATES = {
    ("fw.bin", "changed", ""), ("b/rom.rom", "moved", "a/rom.rom"), ("gone.bin", "gone", ""), ("new.bin", "added", ""),
}  # fmt: skip


def _lay(folder: Path, files: dict[str, bytes]) -> Path:
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


@pytest.mark.parametrize("kinds", ["zip zip", "folder folder", "folder zip"])
def test_two_versions_of_a_bundle(kinds, tmp_path, capsys):
    sides = []
    for number, (kind, files) in enumerate(zip(kinds.split(), (OLD, NEW), strict=True)):
        path = tmp_path / f"bundle{number}"
        if kind == "zip":
            _zipped(path, files)
        else:
            _lay(path, files)
        sides.append(str(path))
    assert main(["--catalogue", str(tmp_path / "c.sqlite"), "compare", "--json", *sides]) == 1
    done = json.loads(capsys.readouterr().out)
    assert {(one["name"], one["state"], one["was"]) for one in done["members"]} == STATES
    assert (done["members_same"], done["same"]) == (1, False)
    assert main(["--catalogue", str(tmp_path / "c.sqlite"), "compare", *sides]) == 1
    said = capsys.readouterr().out
    assert "1 member agrees and 4 differ" in said
    assert "the same bytes as a/rom.rom in A" in said


def test_the_same_folder_twice_and_an_archive_in_it(tmp_path, capsys):
    _zipped(_lay(tmp_path / "one", OLD) / "in.zip", NEW)
    _zipped(_lay(tmp_path / "two", OLD) / "in.zip", NEW)
    sides = [str(tmp_path / "one"), str(tmp_path / "two")]
    assert main(["--catalogue", str(tmp_path / "c"), "compare", "--json", *sides]) == 0
    done = json.loads(capsys.readouterr().out)
    assert (done["same"], done["members"], done["members_same"]) == (True, [], 9)


def test_a_folder_against_a_plain_file_is_a_wrong_call(tmp_path, capsys):
    _lay(tmp_path / "one", OLD)
    call = ["--catalogue", str(tmp_path / "c"), "compare", str(tmp_path / "one"), str(tmp_path / "one" / "fw.bin")]
    assert main(call) == 2
    assert "no folder and no archive" in capsys.readouterr().err


def test_hostile_names_in_bundles_are_only_text(call: Call, tmp_path: Path) -> None:
    """Ways up, drive letters, terminal escapes, right-to-left marks: nothing is written, all of it is escaped."""
    names = ["../../up.bin", "C:\\x.bin", "esc\x1b[2J.bin", "rtl\u202egpj.bin", "new\nline.bin", "/etc/root.bin"]
    _zipped(tmp_path / "a.zip", dict.fromkeys(names, b"old"))
    _zipped(tmp_path / "b.zip", dict.fromkeys(names, b"new"))
    before = sorted(tmp_path.rglob("*"))
    answer = differs(call, tmp_path / "a.zip", tmp_path / "b.zip")
    assert {one["state"] for one in answer["members"]} == {"changed"}
    code, out, _ = call("compare", tmp_path / "a.zip", tmp_path / "b.zip")
    assert code == 1
    assert not {"\x1b", "\u202e"} & set(out)
    assert "line.bin" not in out.splitlines()
    assert {one for one in tmp_path.rglob("*") if not one.name.startswith("c.db")} == set(before)


def test_a_bundle_that_is_cut_is_said_to_be_unknown_there(call: Call, tmp_path: Path) -> None:
    _zipped(tmp_path / "a.zip", NEW)
    (tmp_path / "b.zip").write_bytes((tmp_path / "a.zip").read_bytes()[:700])
    answer = differs(call, tmp_path / "a.zip", tmp_path / "b.zip")
    assert {one["state"] for one in answer["members"]} == {"unreadable"}
    _, out, _ = call("compare", tmp_path / "a.zip", tmp_path / "b.zip")
    assert "B is not sound" in out
    assert "new.bin: not compared. Whether B has it is unknown" in out
