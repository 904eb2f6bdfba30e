"""What the commands say to a person, where a tired one would otherwise be left alone."""

import json
import os

import pytest

from catalogue.cli import main
from catalogue.cli.commands.kit import kit_lines
from catalogue.cli.words import count, size
from tests.media.making import EXTEND, KIT, WRITER, sha


@pytest.fixture
def call(tmp_path, capsys):
    def calling(*arguments):
        code = main(["--catalogue", str(tmp_path / "c.db"), *map(os.fspath, arguments)])
        return code, capsys.readouterr().out

    return calling


def test_an_empty_catalogue_is_called_empty(call):
    assert call("pieces") == (0, "This catalogue is empty: index a folder first.\n")
    assert call("pieces", "--json") == (0, "[]\n")


def test_a_kind_that_is_none_is_answered_with_those_there_are(call, tmp_path):
    note = tmp_path / "note.txt"
    note.write_text("Release 7 of the Heron notes.\n")
    code, said = call("index", note)
    assert code == 0
    assert said.startswith("1 file looked at in ")
    assert "1 new" in said
    assert "Found there: 1 piece, 0 of them archives." in said
    assert call("pieces", "--kind", "txet") == (0, "No piece is of kind txet; the kinds here are text.\n")
    assert call("pieces", "--text", "plover") == (0, "No piece in the catalogue answers to that.\n")
    code, said = call("pieces", "--kind", "txet", "--json")
    assert json.loads(said) == []


def test_hex_is_told_from_decimal(call, tmp_path):
    blank = tmp_path / "blank.bin"
    blank.write_bytes(b"\xff" * 64)
    _, said = call("show", blank)
    assert "fill  FFh  at 0h, 64 bytes" in said


def test_a_companion_stands_under_its_piece():
    lines = kit_lines(KIT, {sha(WRITER): "QHAND.EXE", sha(EXTEND): "QHXTEND.BIN"})
    at = next(number for number, line in enumerate(lines) if line.startswith("writer "))
    assert f"QHAND.EXE {sha(WRITER)[:12]}" in lines[at]
    assert lines[at + 1].split() == ["with", "QHXTEND.BIN", sha(EXTEND)[:12]]


def test_one_is_not_many():
    assert (count(0, "file"), count(1, "file"), count(2, "file")) == ("0 files", "1 file", "2 files")
    assert (size(1), size(2_048)) == ("1 byte", "2 048 bytes")
