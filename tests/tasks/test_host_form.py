"""The host form's work: facts out of a file, a file out of facts, comments kept, what a chosen file holds."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.errors import BadCall
from catalogue.hosts.form import facts_of, written
from catalogue.hosts.load import CPUS, load_host
from catalogue.shapes.host_form import HostFacts, MachineFacts
from catalogue.tasks import host_form, hosts
from catalogue.tasks import settings as places
from tests.formats.build_keys import CERTIFICATE, IMAGE_SHA256, keys
from tests.formats.build_signature import ROOT
from tests.hosts.test_load import ENTRY

MINE = """# Rack nine, by the window.
schema = 1
name = "Rack nine"   # as on its label
as_of = 2026-05-02

[bench]
boots = [
    "legacy",  # jumper J3
]

# asked on 2 May
[destination]
cpu = "x86-64"
secure_boot = true  # Ada says so
db = ["db.esl"]
"""


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(places, "user_hosts", lambda: tmp_path / "hosts")
    return tmp_path / "hosts"


@pytest.fixture
def lists(tmp_path: Path) -> Path:
    folder = tmp_path / "saved"
    folder.mkdir()
    (folder / "db.esl").write_bytes(keys(CERTIFICATE, ROOT.der))
    (folder / "dbx.esl").write_bytes(keys(IMAGE_SHA256, bytes(32), bytes(range(32))))
    (folder / "esrt.txt").write_text(ENTRY)
    (folder / "page.html").write_text("<html>")
    return folder


@pytest.fixture
def mine(kept: Path, lists: Path, tmp_path: Path) -> Path:
    """A kept host that a person wrote with comments."""
    file = lists / "mine.toml"
    file.write_text(MINE)
    return Path(hosts.keep(file).file)


def test_what_a_chosen_file_holds(lists):
    db = host_form.looked_at(lists / "db.esl", esrt=False)
    assert (db.why, len(db.subjects), db.digests) == ("", 1, 0)
    dbx = host_form.looked_at(lists / "dbx.esl", esrt=False)
    assert (dbx.why, dbx.subjects, dbx.digests) == ("", (), 2)
    assert host_form.looked_at(lists / "esrt.txt", esrt=True).resources == 1
    assert host_form.looked_at(lists / "page.html", esrt=False).why == "it holds no EFI signature list"
    assert "cannot be read" in host_form.looked_at(lists / "nothing", esrt=False).why
    assert host_form.looked_at(lists / "db.esl", esrt=True).why


def test_a_list_over_the_bound_is_not_read(lists, monkeypatch):
    monkeypatch.setattr(host_form, "MOST_BYTES", 10)
    assert "larger than" in host_form.looked_at(lists / "db.esl", esrt=False).why


def test_a_new_host_is_kept_with_its_files(kept, lists):
    told = HostFacts(
        "Rack ten",
        date(2026, 6, 1),
        MachineFacts(cpu="x86-64", boots=("legacy", "uefi")),
        MachineFacts("aarch64", ("uefi",), True, (lists / "db.esl",), (lists / "dbx.esl",), lists / "esrt.txt"),
    )
    made = host_form.save(told)
    assert made.problems == ()
    host = hosts.load("rack ten")
    assert (host.name, host.as_of, host.bench.cpu) == ("Rack ten", date(2026, 6, 1), CPUS["x86-64"])
    assert host.destination.secure_boot is True
    assert len(host.destination.db or ()) == 1 and len(host.destination.dbx or ()) == 2
    assert len(host.destination.resources or ()) == 1
    folder = Path(host.file).parent
    assert folder.parent == kept
    assert sorted(one.name for one in folder.iterdir()) == ["db.esl", "dbx.esl", "esrt.txt", "host.toml"]
    assert replace(made, file="", problems=()) == replace(
        told,
        destination=replace(
            told.destination, db=(folder / "db.esl",), dbx=(folder / "dbx.esl",), esrt=folder / "esrt.txt"
        ),
    )


def test_nothing_told_is_a_host_too(kept):
    made = host_form.save(HostFacts("Unknown machine"))
    assert Path(made.file).read_text() == 'schema = 1\nname = "Unknown machine"\n'
    assert hosts.load("Unknown machine").bench.cpu is None


def test_an_edit_keeps_comments_order_and_spelling(mine):
    facts = host_form.facts(str(mine))
    told = replace(facts, destination=replace(facts.destination, cpu="aarch64", secure_boot=False))
    host_form.save(told)
    assert mine.read_text() == MINE.replace('"x86-64"', '"aarch64"').replace("= true", "= false")


def test_an_edit_that_changes_nothing_changes_no_byte(mine):
    host_form.save(host_form.facts(str(mine)))
    assert mine.read_text() == MINE


def test_line_ends_stay(mine):
    mine.write_bytes(MINE.replace("\n", "\r\n").encode())
    facts = host_form.facts(str(mine))
    host_form.save(replace(facts, name="Rack 9"))
    assert mine.read_bytes() == MINE.replace('"Rack nine"', '"Rack 9"').replace("\n", "\r\n").encode()


def test_a_fact_becomes_unknown_and_its_file_goes(mine):
    facts = host_form.facts(str(mine))
    assert (mine.parent / "db.esl").is_file()
    made = host_form.save(replace(facts, as_of=None, destination=MachineFacts()))
    assert made.problems == ()
    text = mine.read_text()
    assert "as_of" not in text and "db" not in text and "secure_boot" not in text
    assert "# Rack nine, by the window." in text and "# asked on 2 May" in text and "# jumper J3" in text
    assert not (mine.parent / "db.esl").exists()


def test_facts_that_are_new_stand_where_they_belong(mine, lists):
    mine.write_text('schema = 1\nname = "Rack nine"\n[destination]\ncpu = "arm"\n')
    facts = host_form.facts(str(mine))
    told = replace(
        facts, as_of=date(2026, 1, 2), bench=MachineFacts(boots=("uefi",)),
        destination=replace(facts.destination, dbx=(lists / "dbx.esl",)),
    )  # fmt: skip
    made = host_form.save(told)
    assert made.problems == ()
    host = load_host(mine).host
    assert host is not None
    assert (host.as_of, host.bench.boots, host.destination.cpu) == (date(2026, 1, 2), {"uefi"}, CPUS["arm"])
    assert len(host.destination.dbx or ()) == 2


def test_two_files_of_one_name_are_told_apart(kept, lists, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    (other / "DB.ESL").write_bytes(keys(IMAGE_SHA256, bytes(32)))
    (other / "host.toml").write_bytes(keys(IMAGE_SHA256, bytes(32)))
    files = (lists / "db.esl", other / "DB.ESL", other / "host.toml")
    made = host_form.save(HostFacts("Two", destination=MachineFacts(db=files)))
    assert made.problems == ()
    assert [one.name for one in made.destination.db] == ["db.esl", "DB-2.ESL", "host-2.toml"]
    assert [one.kind for one in hosts.load("Two").destination.db or ()] == [
        "certificate", "image-sha256", "image-sha256",
    ]  # fmt: skip


def test_a_file_that_cannot_be_used_keeps_nothing(kept, lists):
    made = host_form.save(HostFacts("Bad", destination=MachineFacts(db=(lists / "page.html",))))
    assert [one.line for one in made.problems] == [1]
    assert "it holds no EFI signature list" in made.problems[0].text
    assert not kept.exists() or list(kept.iterdir()) == []


def test_facts_that_contradict_are_told_with_their_line_and_keep_nothing(mine):
    facts = host_form.facts(str(mine))
    made = host_form.save(replace(facts, destination=replace(facts.destination, boots=("legacy",))))
    (problem,) = made.problems
    assert (
        "secure_boot" in problem.text
        and problem.line == MINE.splitlines().index("secure_boot = true  # Ada says so") + 1
    )
    assert mine.read_text() == MINE


@pytest.mark.parametrize("name", ["", "   "])
def test_a_host_needs_a_name(kept, name):
    assert "name is missing" in host_form.save(HostFacts(name)).problems[0].text


def test_a_name_that_another_host_has_is_refused(mine):
    with pytest.raises(BadCall, match="Rack nine"):
        host_form.save(HostFacts("rack NINE"))


def test_names_that_make_one_folder_make_two_hosts(kept):
    for name in ("Rack: nine", "Rack; nine"):
        assert host_form.save(HostFacts(name)).problems == ()
    assert sorted(one.name for one in hosts.run()) == ["Rack: nine", "Rack; nine"]


def test_a_faulty_file_shows_what_can_be_read_and_what_is_wrong(mine):
    mine.write_text('schema = 1\nname = "Rack nine"\n[bench]\ncpu = "vax"\nsecure_boot = "no"\nboots = ["uefi"]\n')
    facts = host_form.facts(str(mine))
    assert [one.line for one in facts.problems] == [4, 5]
    assert (facts.editable, facts.bench) == (True, MachineFacts(boots=("uefi",)))
    assert host_form.save(facts).problems == ()
    assert hosts.load("Rack nine").bench.cpu is None


def test_a_file_that_is_no_toml_is_never_written_over(mine):
    mine.write_text('schema = 1\nname = "Rack nine\n')
    facts = host_form.facts(str(mine))
    assert not facts.editable and facts.problems[0].line == 2
    made = host_form.save(HostFacts("Rack nine", file=str(mine)))
    assert "mend it by hand" in made.problems[0].text
    assert mine.read_text() == 'schema = 1\nname = "Rack nine\n'


def test_a_table_that_is_none_is_mended(mine):
    mine.write_text('schema = 1\nname = "Rack nine"\nbench = 3\n')
    made = host_form.save(replace(host_form.facts(str(mine)), bench=MachineFacts(cpu="arm")))
    assert made.problems == ()
    assert hosts.load("Rack nine").bench.cpu == CPUS["arm"]


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_cannot_be_written_is_said(kept):
    from catalogue.errors import NotWorkable

    kept.parent.chmod(0o500)
    try:
        with pytest.raises(NotWorkable, match="cannot be kept"):
            host_form.save(HostFacts("x"))
    finally:
        kept.parent.chmod(0o700)


MACHINES = st.builds(
    MachineFacts,
    cpu=st.sampled_from(["", *CPUS]),
    boots=st.sampled_from([(), ("legacy",), ("uefi",), ("legacy", "uefi")]),
    secure_boot=st.sampled_from([None, False]),
)
NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=40)


@settings(deadline=None, max_examples=60)
@given(NAMES, st.none() | st.dates(date(1980, 1, 1), date(2199, 12, 31)), MACHINES, MACHINES, MACHINES)
def test_any_facts_come_back_from_the_file(tmp_path_factory, name, day, bench, destination, before):
    """Written anew, and written into a file with other facts and comments, the loader gives these facts."""
    folder = tmp_path_factory.mktemp("facts")
    told = HostFacts(name, day, bench, destination)
    first = written(HostFacts("before", None, before, before), {}, "# a comment\n")
    for text in (written(told, {}), written(told, {}, first)):
        (folder / "host.toml").write_text(text, encoding="utf-8")
        assert replace(facts_of(folder / "host.toml"), file="") == told
    assert "# a comment" in text
