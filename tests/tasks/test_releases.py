"""A release that a person adds: every line of the file stays, the file is unsettled, a broken law writes nothing."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.cli import main
from catalogue.errors import BadCall
from catalogue.families.load import load_file
from catalogue.families.release_edit import with_release
from catalogue.shapes.releases import NewRelease
from catalogue.tasks import accept_family, families, releases
from catalogue.tasks.context import Context

FAMILY = "corvane-bittern-own"
SHIPPED = Path(__file__).parents[2] / "resources" / "families" / "corvane-bittern.toml"
NEW = NewRelease(
    "thirteen", date(2026, 5, 20), {"firmware": "13.00.0", "legacy-boot-rom": "8.42.0"},
    source="notes.txt, offset 01A3h", by="Mara Quill", as_of=date(2026, 6, 1),
)  # fmt: skip


@pytest.fixture
def own(tmp_path: Path) -> tuple[Context, Path]:
    folder = tmp_path / "families"
    folder.mkdir()
    file = folder / "own.toml"
    file.write_text(SHIPPED.read_text(encoding="utf-8").replace('"corvane-bittern"', f'"{FAMILY}"'), encoding="utf-8")
    context = Context(str(tmp_path / "c.sqlite"), (folder,), today=date(2026, 6, 2))
    assert accept_family.run(context, file).settled
    return context, file


def test_the_release_stands_first_and_every_other_line_stays(own):
    context, file = own
    before = file.read_text(encoding="utf-8").splitlines()
    added = releases.add(context, FAMILY, NEW)
    assert added.problems == ()
    after = file.read_text(encoding="utf-8").splitlines()
    block = after[added.line - 1 : added.line + 5]
    assert block == [
        "[[release]]  # from notes.txt, offset 01A3h, said by Mara Quill, 2026-06-02",
        'name = "thirteen"',
        "date = 2026-05-20",
        'mix = "stop"',
        'firmware = { version = "13.00.0" }',
        'legacy-boot-rom = { version = "8.42.0" }',
    ]
    del after[added.line - 1 : added.line + 5]
    assert [line for line in after if line not in before] == ["as_of = 2026-06-01"]
    assert len(after) == len(before)
    assert after[added.line - 2].startswith("#")  # the comment over all releases stays over them
    family = load_file(file).family
    assert [one.name for one in family.releases][:2] == ["thirteen", "twelve"]
    assert (family.releases[0].claims["firmware"].version, family.as_of) == ("13.00.0", date(2026, 6, 1))


def test_the_file_is_unsettled_until_it_is_accepted_again(own):
    context, file = own
    releases.add(context, FAMILY, NEW)
    assert not families.detail(context, FAMILY).settled
    assert accept_family.run(context, file).settled
    assert families.detail(context, FAMILY).settled


def test_a_file_without_releases_gets_one_at_its_end(own):
    context, file = own
    text = file.read_text(encoding="utf-8")
    begin, end = text.index("[[release]]"), text.index("[[route]]")
    file.write_text((text[:begin] + text[end:]).rstrip("\n"), encoding="utf-8")
    added = releases.add(context, FAMILY, replace(NEW, as_of=None))
    assert added.problems == ()
    lines = file.read_text(encoding="utf-8").splitlines()
    assert lines[added.line - 1].startswith("[[release]]") and lines[added.line - 2] == ""
    assert load_file(file).family.releases[0].name == "thirteen"


def test_line_ends_stay(own):
    context, file = own
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    releases.add(context, FAMILY, NEW)
    data = file.read_bytes()
    assert data.count(b"\n") == data.count(b"\r\n")
    assert load_file(file).family.releases[0].name == "thirteen"


def test_a_shipped_family_is_left_alone(tmp_path):
    context = Context(str(tmp_path / "c.sqlite"))
    before = SHIPPED.read_bytes()
    with pytest.raises(BadCall, match="shipped"):
        releases.add(context, "corvane-bittern", NEW)
    assert SHIPPED.read_bytes() == before


def test_a_variant_takes_a_release_of_its_own(tmp_path):
    folder = tmp_path / "families"
    folder.mkdir()
    file = folder / "brand.toml"
    file.write_text(
        'schema = 1\nid = "brand"\ntitle = "Brand"\nextends = "corvane-bittern"\nas_of = 2026-03-01\n'
        'subsystems = ["F234:0001"]\n'
    )
    context = Context(str(tmp_path / "c.sqlite"), (folder,))
    assert releases.add(context, "brand", NEW).problems == ()
    names = [one.name for one in load_file(file, [SHIPPED.parent]).family.releases]
    assert sorted(names) == ["eleven", "thirteen", "twelve"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"name": "twelve"}, "already"),
        ({"name": " "}, "needs a name"),
        ({"versions": {}}, "needs a name"),
        ({"versions": {"nothing": "1"}}, "no role nothing"),
    ],
)
def test_what_does_not_do_is_refused(own, change, said):
    context, file = own
    before = file.read_bytes()
    with pytest.raises(BadCall, match=said):
        releases.add(context, FAMILY, replace(NEW, **change))
    assert file.read_bytes() == before


def test_what_would_break_the_file_writes_nothing_and_says_the_line(own):
    context, file = own
    before = file.read_bytes()
    added = releases.add(context, FAMILY, replace(NEW, mix="perhaps"))
    assert [(one.file, "mix" in one.text) for one in added.problems] == [(str(file), True)]
    assert before == file.read_bytes()
    assert added.problems[0].line == before.decode().splitlines().index("[[release]]") + 1 + 3


def test_a_list_in_one_value_is_left_to_a_person(own):
    context, file = own
    text = file.read_text(encoding="utf-8")
    begin, end = text.index("[[release]]"), text.index("[[withdrawn]]")
    head = text.index("[card]")
    one = 'release = [{ name = "twelve", date = 2026-02-10, firmware = { version = "12.04.0" } }]\n'
    file.write_text(text[:head] + one + text[head:begin] + text[end:], encoding="utf-8")
    before = file.read_bytes()
    with pytest.raises(BadCall, match="by hand"):
        releases.add(context, FAMILY, NEW)
    assert file.read_bytes() == before


def test_notes_are_read_and_what_is_no_text_is_said(tmp_path):
    notes = tmp_path / "notes.txt"
    notes.write_text("Version 13.00.0 (20 May 2026)\n")
    (one,) = releases.mentioned(notes)
    assert (one.version, one.offset, one.line, one.day, one.day_offset) == ("13.00.0", 8, 1, "2026-05-20", 17)
    (tmp_path / "rom").write_bytes(bytes(range(256)))
    with pytest.raises(BadCall, match="no plain text"):
        releases.mentioned(tmp_path / "rom")
    with pytest.raises(BadCall, match="cannot be read"):
        releases.mentioned(tmp_path / "none")


def test_notes_over_the_bound_are_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(releases, "MOST_NOTES", 3)
    (tmp_path / "notes.txt").write_text("long")
    with pytest.raises(BadCall, match="longer than"):
        releases.mentioned(tmp_path / "notes.txt")


def test_the_command(own, tmp_path, capsys):
    context, file = own
    call = ["--catalogue", str(context.catalogue), "--families", str(file.parent), "releases", FAMILY]
    assert main(call) == 0
    out = capsys.readouterr().out
    assert "known as of 2026-03-01" in out and "2026-02-10  twelve: " in out
    notes = tmp_path / "notes.txt"
    notes.write_text("Version 13.00.0 (20 May 2026)\n")
    assert main([*call, "--notes", str(notes)]) == 0
    assert "13.00.0 at 0008h, line 1; 2026-05-20" in capsys.readouterr().out
    assert main([*call, "--add", "thirteen"]) == 2
    assert main([*call, "--add", "thirteen", "--date", "20 May", "--version", "firmware=13"]) == 2
    more = ["--date", "2026-05-20", "--version", "firmware=13.00.0", "--by", "Ada", "--json"]
    assert main([*call, "--add", "thirteen", *more]) == 0
    out = capsys.readouterr().out
    assert json.loads(out)["line"] > 1
    assert main(call) == 0
    assert "2026-05-20  thirteen: firmware 13.00.0" in capsys.readouterr().out


TEXT = st.text(st.characters(codec="utf-8"), min_size=1, max_size=30)


@given(TEXT, TEXT, TEXT)
def test_no_text_of_a_person_leaves_its_quotes(name, version, by):
    import tomllib

    new = NewRelease(name, date(2026, 5, 20), {"firmware": version}, source=by, by=by)
    text, line = with_release("as_of = 2026-01-01\n", {}, new, date(2026, 6, 2))
    made = tomllib.loads(text)
    assert list(made) == ["as_of", "release"]
    assert list(made["release"][0]) == ["name", "date", "mix", "firmware"]
    assert text.split("\n")[line - 1].startswith("[[release]]")
