"""Texts that nobody vouches for, on the terminal and as JSON: file names, lists, family files, listings, papers.

Names inside archives have tests/contracts/test_hostile_names.py, the window tests/ui/test_hostile_names.py.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from catalogue.cli import main
from catalogue.media import sums
from catalogue.shapes.as_json import as_text
from catalogue.shapes.finding import Evidence, Finding, Level
from tests.families.sample import planted
from tests.media.making import KIT

TRAP = "x\x1b[2J\x1b]0;t\x07\x9b31m\r\n\u202egnp\u2066\u2028\u200b<b>\ud800"
SAFE_ON_DISK = TRAP.replace("\ud800", "").replace("<", "").replace(">", "")
MARKS = "\0\r\x1b\x07\x9b\u202e\u2066\u2028\u200b\ud800"
Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def call(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    def calling(*arguments: str | Path) -> tuple[int, str, str]:
        code = main(["--catalogue", str(tmp_path / "catalogue.db"), *map(os.fspath, arguments)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return calling


def escaped(text: str) -> str:
    """The text, nothing in it being what could move a cursor or turn a line round."""
    assert not set(text) & set(MARKS), ascii(text)
    return text


def as_json(text: str) -> object:
    assert text.isascii()
    assert not any(sign < " " and sign != "\n" for sign in text)
    return json.loads(text)


def strings(value: object) -> Iterator[str]:
    """Every text in a JSON value."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from strings(one)


@pytest.mark.skipif(os.name == "nt", reason="this system allows no such names")
@pytest.mark.parametrize("name", [os.fsencode(SAFE_ON_DISK), b"bad\xff\xfe\x1b[1m.bin", b"..x\n.bin", b"C:\\up.bin"])
def test_names_on_disk(name: bytes, call: Call, tmp_path: Path):
    folder = tmp_path / "in"
    folder.mkdir()
    try:
        (folder / os.fsdecode(name)).write_bytes(b"a piece \0\1")
    except (OSError, ValueError):
        pytest.skip("this file system allows no such name")
    sha256 = hashlib.sha256(b"a piece \0\1").hexdigest()
    for verb in (("index", folder), ("pieces",), ("show", sha256)):
        code, out, err = call(*verb)
        assert code == 0, err
        escaped(out + err)
        _, out, _ = call(*verb[:1], "--json", *verb[1:])
        said = as_json(out)
        if verb[0] == "show":
            assert any(text.endswith(os.fsdecode(name)) for text in strings(said)), "JSON says it whole"


@pytest.mark.skipif(os.name == "nt", reason="this system allows no such names")
def test_a_name_on_disk_that_cannot_be_read(call: Call, tmp_path: Path):
    missing = tmp_path / SAFE_ON_DISK
    code, out, err = call("index", missing)
    assert code
    escaped(out + err)
    _, out, _ = call("index", "--json", missing)
    if out:
        as_json(out)


def test_a_list_that_is_vouched_by(call: Call, tmp_path: Path):
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "a.bin").write_bytes(b"a piece \0\1")
    call("index", folder)
    listed = tmp_path / "list.txt"
    right, wrong = hashlib.sha256(b"a piece \0\1").hexdigest(), "0" * 64
    name = TRAP.replace("\r\n", "").replace("\ud800", "")
    listed.write_bytes(f"{right}  {name}\n{wrong}  a.bin\n{wrong} *{name}2\n".encode())
    said = "".join(call("vouch", "--list", listed, "--source", TRAP.replace("\ud800", ""), "--by", "x\x1b[1m")[1:])
    escaped(said)
    _, out, _ = call("vouch", "--json", "--list", listed, "--source", "a\x1b\u202e")
    as_json(out)
    _, out, err = call("show", right)
    escaped(out + err)


def test_a_family_file(call: Call, tmp_path: Path):
    text = planted(('title = "Corvane Bittern"', 'title = "T\\u001B[2J\\u202E\\u2028\\u0007"'))
    assert "\\u202E" in text, "the planted title stands in the file"
    folder = tmp_path / "families"
    folder.mkdir()
    (folder / "a.toml").write_text(text + '\n["k\\u001B\\u202E"]\nx = 1\n', "utf-8")
    (folder / "b\u202e.toml").write_text("no toml \u202e\x1b", "utf-8")
    for verb in (("families",), ("kit", "corvane-bittern"), ("find-family", "f234:0064")):
        _, out, err = call("--families", folder, *verb)
        escaped(out + err)
        _, out, err = call("--families", folder, *verb, "--json")
        escaped(err)
        if out:
            as_json(out)


@pytest.mark.parametrize(
    "shown", [TRAP.replace("\ud800", ""), f"01:00.0 [0104]: \x1b[2J{TRAP[:-1]} [f234:0064]", "\0" * 40]
)
def test_what_a_card_shows(shown: str, call: Call):
    code, out, err = call("find-family", shown)
    assert code in (0, 1, 2)
    escaped(out + err)
    _, out, err = call("find-family", "--json", shown)
    escaped(err)
    if out:
        as_json(out)


def test_a_medium_whose_papers_are_hostile(call: Call, tmp_path: Path):
    """Every text of KIT.JSN, and names in its folder."""
    finding = Finding(TRAP, Level.CAUTION, TRAP, (Evidence(TRAP, TRAP, 1, 2, TRAP, TRAP),), TRAP)
    kit = replace(KIT, family=TRAP, family_title=TRAP, route=TRAP, findings=(finding,), said=(TRAP,))
    kit = replace(kit, pieces=tuple(replace(one, name=TRAP, kind=TRAP) for one in kit.pieces))
    paper = as_text(kit).encode()
    (tmp_path / "medium").mkdir()
    folder = tmp_path / "medium" / "BITT-7F3"
    folder.mkdir()
    (folder / "KIT.JSN").write_bytes(paper)
    (folder / "SHA256.SUM").write_bytes(sums.text([("KIT.JSN", hashlib.sha256(paper).hexdigest())]))
    if os.name != "nt":
        (folder / SAFE_ON_DISK).write_bytes(b"stray")
    for target in (tmp_path / "medium", folder):
        code, out, err = call("read-back", target)
        assert code == 1
        escaped(out + err)
        _, out, _ = call("read-back", "--json", target)
        as_json(out)


def test_the_call_itself(call: Call):
    for verb in (("show", TRAP[:-1]), ("kit", TRAP[:-1]), ("pieces", "--kind", TRAP[:-1]), (TRAP[:-1],)):
        code, out, err = call(*verb)
        assert code in (0, 1, 2)
        escaped(out + err)


def test_the_trap_holds_every_mark():
    assert set(MARKS) - {"\0"} <= set(TRAP)
    with pytest.raises(AssertionError):
        escaped("a\x1b")
