"""What people recorded, on the command line: lines for a person, exit codes, and nothing that moves a terminal."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from catalogue.cli import main
from tests.store.test_evidence import FW, OTHER, sha

NASTY = "a page \x1b[2J\u202e\u200b\r\n- fine"


class Desk:
    """Two catalogues, the command line, and what it printed."""

    def __init__(self, folder: Path, said: Callable[[], tuple[str, str]]) -> None:
        self.folder, self._said = folder, said
        (folder / "in").mkdir()
        (folder / "in" / "fw.bin").write_bytes(FW)
        for at in ("a", "b"):
            assert self.call(at, "index", str(folder / "in"))[0] == 0

    def call(self, at: str, *words: str) -> tuple[int, str]:
        code = main(["--catalogue", str(self.folder / f"{at}.sqlite"), *words])
        out, err = self._said()
        return code, out or err

    def vouch(self, at: str, text: str, source: str = "the maker's page", by: str = "Ann") -> tuple[int, str]:
        file = self.folder / "SUMS"
        file.write_text(text, encoding="utf-8")
        return self.call(at, "vouch", "--list", str(file), "--source", source, "--by", by)

    @property
    def file(self) -> str:
        return str(self.folder / "x.facts")


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Desk:
    def said() -> tuple[str, str]:
        both = capsys.readouterr()
        return both.out, both.err

    return Desk(tmp_path, said)


def test_nothing_yet(desk: Desk) -> None:
    code, said = desk.call("a", "facts")
    assert (code, "Nobody has recorded anything" in said) == (0, True)
    assert json.loads(desk.call("a", "facts", "--json")[1]) == []


def test_lines_for_a_person(desk: Desk) -> None:
    code, said = desk.vouch("a", f"{sha(FW)}  fw.bin\n")
    assert code == 0
    id_ = said.split("as fact ")[1][:12]
    _code, said = desk.call("a", "facts")
    assert all(one in said for one in (id_, "list", "Ann", "this one", "SUMS, 1 digests, from the maker's page"))
    _code, said = desk.call("a", "show", sha(FW))
    assert "vouched for: named, by the maker's page (recorded by Ann) (" in said
    assert "SUMS, line 1), since 20" in said
    assert "named, the maker's page" in desk.call("a", "pieces")[1]
    code, said = desk.call("a", "take-back", id_, "--reason", "a copy", "--by", "Bo")
    assert (code, "has lost that rung" in said) == (0, True)
    assert "Bo took it back on 20" in desk.call("a", "facts")[1]
    assert "vouched for: by nobody yet" in desk.call("a", "show", sha(FW))[1]


def test_out_and_in(desk: Desk) -> None:
    desk.vouch("a", f"{sha(FW)}  fw.bin\n")
    code, said = desk.call("a", "facts-out", desk.file, "--by", "Ann", "--bench", "One")
    assert (code, "Wrote 1 fact to " in said) == (0, True)
    code, said = desk.call("b", "facts-in", desk.file)
    assert code == 0
    assert "From One, sent by Ann." in said and "New here:" in said and "Nothing was taken in." in said
    code, said = desk.call("b", "facts-in", desk.file, "--accept", "--by", "Bo")
    assert (code, "1 fact taken in." in said) == (0, True)
    assert "taken in by Bo" in desk.call("b", "facts")[1]
    code, said = desk.call("b", "facts-in", desk.file, "--accept", "--by", "Bo")
    assert (code, "0 facts taken in." in said) == (0, True)


def test_what_speaks_against_a_piece_is_exit_1(desk: Desk) -> None:
    desk.vouch("a", f"{sha(OTHER)}  fw.bin\n")
    desk.call("a", "facts-out", desk.file, "--by", "Ann", "--bench", "One")
    code, said = desk.call("b", "facts-in", desk.file)
    assert (code, "A list speaks against" in said) == (1, True)


@pytest.mark.parametrize(
    "words",
    [
        ("facts-in", "no-such-file"),
        ("facts-in", "SUMS"),
        ("facts-in", "SUMS", "--accept"),
        ("facts-out", "SUMS", "--by", "Ann", "--bench", "One"),
        ("facts-out", "y.facts", "--by", "Ann"),
        ("take-back", "0000", "--reason", "x", "--by", "Bo"),
        ("take-back", "0000"),
        ("vouch", "--list", "SUMS", "--source", " "),
        ("vouch", "--list", "SUMS"),
        ("vouch", "--ran", "x", "--by", "Bo"),
    ],
)
def test_calls_that_cannot_be_right_are_exit_2(
    desk: Desk, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.vouch("a", f"{sha(FW)}  fw.bin\n")
    monkeypatch.chdir(desk.folder)
    try:
        code, said = desk.call("a", *words)
    except SystemExit as ended:
        code, said = int(str(ended.code)), "one line"
    assert code == 2
    assert said.strip().count("\n") == 0
    assert "Traceback" not in said


def test_nothing_that_moves_a_terminal(desk: Desk) -> None:
    desk.vouch("a", f"{sha(FW)}  \x1b[31mfw.bin\n", NASTY, "A\u202enn")
    (desk.folder / "f").mkdir()
    printed = desk.call("a", "facts")[1]
    desk.call("a", "facts-out", desk.file, "--by", "A\x1b[1m", "--bench", "O\u202e\x07ne")
    for words in (("facts-in", desk.file), ("facts-in", desk.file, "--accept", "--by", "B\x1bo"), ("facts",)):
        printed += desk.call("b", *words)[1]
    printed += desk.call("b", "show", sha(FW))[1] + desk.call("b", "pieces")[1]
    assert "fine" in printed
    assert all(one == "\n" or one.isprintable() for one in printed)
    raw = Path(desk.file).read_bytes()
    assert b"\x1b" not in raw and "\u202e".encode() not in raw
