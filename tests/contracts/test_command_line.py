"""The command line as an outside caller meets it: odd arguments, closed streams, broken surroundings (contract:
command-line.md, "Exit" and "Details")."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from catalogue.cli import main


def call(tmp_path: Path, *words: str) -> int:
    return main(["--catalogue", str(tmp_path / "catalogue.sqlite"), *words])


def run(tmp_path: Path, words: Sequence[str], **streams: object) -> subprocess.CompletedProcess[bytes]:
    """A process of its own, with standard streams as given."""
    line = [sys.executable, "-m", "ui.entry", "--catalogue", str(tmp_path / "catalogue.sqlite"), *words]
    return subprocess.run(line, check=False, timeout=120, **streams)  # type: ignore[call-overload,no-any-return]


def one_line(text: str) -> bool:
    return text.count("\n") == 1 and text.endswith("\n") and "Traceback" not in text


@pytest.mark.parametrize(
    "words",
    [
        ("index", ""),
        ("index", "", "x"),
        ("show", ""),
        ("write-out", "corvane-bittern", ""),
        ("read-back", ""),
        ("accept-family", ""),
        ("families", "--check", ""),
        ("vouch", "--list", "", "--source", "x"),
        ("demo", " "),
        ("--families", "", "families"),
        ("--catalogue", "", "pieces"),
    ],
    ids=" ".join,
)
def test_an_empty_path_is_a_wrong_call_and_never_the_folder_one_is_in(
    words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    assert call(tmp_path, *words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert one_line(said.err)
    assert not list(here.iterdir())


@pytest.mark.skipif(os.name != "posix", reason="closes a file descriptor before the start")
@pytest.mark.parametrize("number", [1, 0])
def test_a_closed_stream_is_said_in_one_line(number: int, tmp_path: Path) -> None:
    words = ["pieces", "--json"] if number == 1 else ["find-family", "-", "--json"]
    ran = run(tmp_path, words, stderr=subprocess.PIPE, preexec_fn=lambda: os.close(number))
    said = ran.stderr.decode()
    assert ran.returncode == (3 if number == 1 else 2), said
    assert one_line(said), said
    assert "closed" in said


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_behind_standard_output_is_said_in_one_line(tmp_path: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        ran = run(tmp_path, ["families", "--json"], stdout=full, stderr=subprocess.PIPE)
    assert ran.returncode == 3
    assert one_line(ran.stderr.decode()), ran.stderr


def test_a_family_file_that_cannot_be_read_is_named_and_spoils_no_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "families").mkdir()
    (tmp_path / "families" / "mine.toml").write_text("schema = 1\n[[[\n", encoding="utf-8")
    assert call(tmp_path, "--families", str(tmp_path / "families"), "families", "--json") == 0
    said = capsys.readouterr()
    assert {one["id"] for one in json.loads(said.out)} >= {"corvane-bittern", "corvane-heron", "brinewell-plover"}
    assert "mine.toml:2" in said.err
    assert call(tmp_path, "--families", str(tmp_path / "families"), "kit", "corvane-curlew", "--json") == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert one_line(said.err)
    assert "mine.toml:2" in said.err


@pytest.mark.parametrize("words", [("kit", ""), ("kit", "nowhere"), ("write-out", "nowhere", ".")], ids=" ".join)
def test_an_unknown_family_is_named_between_quotes(
    words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call(tmp_path, *words, "--json") == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert f'"{words[1]}"' in said.err
    assert one_line(said.err)


@pytest.mark.parametrize(
    "words",
    [("index",), ("show",), ("read-back",), ("accept-family",), ("families", "--check"), ("--families",)],
    ids=" ".join,
)
@pytest.mark.parametrize("name", ["x" * 5_000, "a\0b"], ids=["long", "nul"])
def test_an_impossible_name_is_a_wrong_call(
    words: tuple[str, ...], name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    more = ("pieces",) if words[0] == "--families" else ()
    assert call(tmp_path, *words, name, *more) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert one_line(said.err)
    assert "\0" not in said.err


def test_a_damaged_archive_is_a_fault_of_the_call_only_where_it_was_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """command-line.md: "faults inside a folder leave exit 0; 1 only if a PATH named in the call is unreadable"."""
    (tmp_path / "in").mkdir()
    cut = tmp_path / "in" / "cut.zip"
    with zipfile.ZipFile(cut, "w") as archive:
        archive.writestr("a.bin", b"a" * 300)
    cut.write_bytes(cut.read_bytes()[:-8])
    for place, code in ((tmp_path / "in", 0), (cut, 1)):
        assert call(tmp_path, "index", str(place), "--json") == code
        told = json.loads(capsys.readouterr().out)["unreadable"]
        assert [one["place"] for one in told] == [str(cut)]
