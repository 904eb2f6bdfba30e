"""Hostile names inside archives, from the file to what a person or a program is told: text, never obeyed."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from catalogue.cli import main
from tests.contracts.hostile_names import ARCHIVES, LONG, MARKS, NAMES, body

Call = Callable[..., tuple[int, str, str]]
EVERY = pytest.mark.parametrize("form", ARCHIVES)


@pytest.fixture
def call(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    def calling(*arguments: str | Path) -> tuple[int, str, str]:
        code = main(["--catalogue", str(tmp_path / "catalogue.db"), *map(os.fspath, arguments)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return calling


def indexed(call: Call, tmp_path: Path, form: str) -> list[str]:
    """Index the archive of this form; the digests of its members that are pieces now."""
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / f"hostile.{form}").write_bytes(ARCHIVES[form]())
    code, out, _ = call("index", "--json", folder)
    assert code in (0, 1)
    assert out.isascii()
    _, out, _ = call("pieces", "--json")
    known = {one["sha256"] for one in json.loads(out)}
    return [sha for at in range(len(NAMES)) if (sha := hashlib.sha256(body(at)).hexdigest()) in known]


def no_marks(text: str) -> None:
    """Nothing of `text` moves the cursor, ends a line early or turns the writing; line ends are the program's own."""
    found = {repr(one) for one in MARKS.replace("\n", "") if one in text}
    assert not found
    for line in text.splitlines():
        assert not line.startswith("end.bin"), "a name's own line end was obeyed"


@EVERY
def test_no_name_leads_anywhere(form: str, call: Call, tmp_path: Path):
    """Every member is had, and nothing appears beside the archive, above it, or at the names."""
    there = indexed(call, tmp_path, form)
    assert len(there) >= len(NAMES) - 1, "the names keep no member from being read"
    assert sorted(path.name for path in (tmp_path / "in").iterdir()) == [f"hostile.{form}"]
    made = {path.name for path in tmp_path.iterdir()}
    assert all(name == "in" or name.startswith("catalogue.db") for name in made), made
    assert not (tmp_path.parent / "up.bin").exists()


@EVERY
def test_json_says_them_escaped_and_whole(form: str, call: Call, tmp_path: Path):
    there = indexed(call, tmp_path, form)
    _, out, _ = call("pieces", "--json")
    assert out.isascii()
    assert not set(out) & set(MARKS.replace("\n", ""))
    told = {place for one in json.loads(out) for place in _strings(one)}
    for name in NAMES[:6]:
        assert any(name in one for one in told), name
    assert any("pay\u202egnp.bin" in one for one in told), "JSON keeps the name as it was, in escapes"
    for sha in there:
        _, out, _ = call("show", "--json", sha)
        assert out.isascii()
        json.loads(out)


@EVERY
def test_the_terminal_shows_them_escaped(form: str, call: Call, tmp_path: Path):
    there = indexed(call, tmp_path, form)
    folder = tmp_path / "in"
    for told in (call("index", folder), call("pieces"), *(call("show", sha) for sha in there)):
        for text in told[1:]:
            no_marks(text)
            assert LONG not in text, "a name of 64 kB fills no terminal"
    _, out, _ = call("show", folder / f"hostile.{form}")
    no_marks(out)


def _strings(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [one for inner in value.values() for one in _strings(inner)]
    return [one for inner in value for one in _strings(inner)] if isinstance(value, list) else []
