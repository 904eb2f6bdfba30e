"""A draft settles only when its folder comes out ready and a counter-example stopped (family-file.md, "Drafting")."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest

from catalogue.cli import main
from catalogue.shapes.results import Accepted
from catalogue.tasks import accept_family, families, index, pieces, prove_draft
from catalogue.tasks.context import Context
from catalogue.tasks.settings import shipped_families
from sample_bundles import bittern, plover, rom
from sample_bundles.noise import noise

BITTERN = shipped_families() / "corvane-bittern.toml"
CUT = ('decide = ["hash", "ids"]\nids = "to"\nversion = "CVLB', 'decide = ["hash"]\nversion = "CVLB')


@pytest.fixture
def context(tmp_path: Path) -> Context:
    return Context(str(tmp_path / "catalogue.sqlite"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "good"
    made.mkdir()
    (made / "bundle.zip").write_bytes(bittern.release_twelve().data)
    return made


def drafted(folder: Path, *changes: tuple[str, str], source: str = "") -> Path:
    """A finished draft of `folder`: the shipped Bittern under another name, saying that it was drafted."""
    text = BITTERN.read_text(encoding="utf-8").replace('"corvane-bittern"', '"my-bittern"')
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    source = source or f"folder = {json.dumps(str(folder))}"
    out = folder.parent / "my-bittern.toml"
    out.write_text(text.replace("\nas_of", f"\ndrafted = {{ {source} }}\nas_of"), encoding="utf-8")
    return out


def said(done: Accepted) -> str:
    return "\n".join(one.text for one in done.problems)


def test_a_draft_that_shows_itself_right_settles(context: Context, folder: Path) -> None:
    done = accept_family.run(context, drafted(folder))
    assert done.settled, said(done)
    assert done.proof is not None
    assert {(one.route, one.verdict) for one in done.proof.routes} == {
        ("raid-to-pass-dos", "ready"), ("raid-to-pass-uefi", "ready"),
    }  # fmt: skip
    assert {(one.what, one.role, one.stops) for one in done.proof.counters} == {
        ("the other mode's ROM", "legacy-boot-rom", ("other-mode",))
    }


def test_nothing_is_recorded_where_one_only_looks(context: Context, folder: Path) -> None:
    file = drafted(folder)
    assert accept_family.run(context, file, only_look=True).problems == ()
    assert not {one.id: one.settled for one in families.run(Context(context.catalogue, (file.parent,)))}["my-bittern"]


def test_where_the_other_mode_s_rom_is_taken_nothing_tells_the_modes_apart(context: Context, folder: Path) -> None:
    done = accept_family.run(context, drafted(folder, CUT))
    assert not done.settled
    assert "nothing here tells the modes apart" in said(done)
    assert all(one.line == 8 for one in done.problems)


def test_a_folder_that_is_not_whole_does_not_come_out_ready(context: Context, tmp_path: Path) -> None:
    folder = tmp_path / "part"
    folder.mkdir()
    (folder / "QHAND.EXE").write_bytes(bittern.DOS_WRITER.data)
    (folder / "QHXTEND.BIN").write_bytes(b"x" * 40)
    done = accept_family.run(context, drafted(folder))
    assert not done.settled
    assert "does not come out ready" in said(done)
    assert "role-empty" in said(done)


def test_a_folder_with_nothing_near_is_said(context: Context, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert "is near what it says" in said(accept_family.run(context, drafted(tmp_path / "empty")))


def test_a_folder_that_is_gone_is_said(context: Context, folder: Path) -> None:
    file = drafted(folder)
    folder.rename(folder.with_name("elsewhere"))
    done = accept_family.run(context, file)
    assert not done.settled
    assert "is not here" in said(done)
    assert "take `drafted` out" in said(done)


def test_without_a_counter_example_it_waits_for_one(context: Context, tmp_path: Path) -> None:
    """Another card's ROM will do; one that does not differ for the family would not."""
    folder = tmp_path / "one"
    folder.mkdir()
    for name, data in bittern_dos().items():
        (folder / name).write_bytes(data)
    route = BITTERN.read_text(encoding="utf-8").split("[[route]]")
    file = drafted(folder, ("[[route]]" + route[2], ""))
    done = accept_family.run(context, file)
    assert not done.settled
    assert "no counter-example is here" in said(done)
    other = tmp_path / "other"
    other.mkdir()
    (other / "bundle.zip").write_bytes(plover.release_three().data)
    index.run(context, [other])
    done = accept_family.run(context, file)
    assert done.settled, said(done)
    assert done.proof is not None
    assert {one.stops[0] for one in done.proof.counters} == {"other-family"}


def test_on_another_bench_the_named_pieces_of_the_catalogue_stand_for_the_folder(
    context: Context, folder: Path, tmp_path: Path
) -> None:
    """The file must not be edited for that: what is recorded of the family hangs on its SHA-256."""
    elsewhere = folder.with_name("elsewhere")
    for changes, settles in [((), True), ((CUT,), False)]:
        file = drafted(folder, *changes)
        folder.rename(elsewhere)
        assert not accept_family.run(Context(str(tmp_path / "empty.sqlite")), file).settled
        index.run(context, [elsewhere])
        done = accept_family.run(context, file)
        assert done.settled is settles, said(done)
        assert done.proof is not None
        assert "stand for it" in done.proof.said[-1]
        assert done.proof.counters
        elsewhere.rename(folder)


def test_a_folder_of_very_many_files_is_left(
    context: Context, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(60):
        (folder / f"{number}.txt").write_text(str(number), encoding="utf-8")
    monkeypatch.setattr(prove_draft, "MOST_FILES", 40)
    assert "more than 40 files" in said(accept_family.run(context, drafted(folder)))
    monkeypatch.setattr(prove_draft, "MOST_FILES", 61)
    assert accept_family.run(context, drafted(folder), only_look=True).problems == ()


@pytest.mark.parametrize("begins", ["//", "\\\\"])
def test_a_file_does_not_send_us_to_another_machine(context: Context, folder: Path, begins: str) -> None:
    file = drafted(folder, source=f"folder = {json.dumps(begins + str(folder).lstrip('/'))}")
    assert "is not here" in said(accept_family.run(context, file))


def test_no_more_than_a_bounded_number_of_counter_examples_is_tried(
    context: Context, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "one"
    folder.mkdir()
    for name, data in bittern_dos().items():
        (folder / name).write_bytes(data)
    route = BITTERN.read_text(encoding="utf-8").split("[[route]]")
    file = drafted(folder, ("[[route]]" + route[2], ""))
    other = tmp_path / "other"
    other.mkdir()
    for number, item in enumerate((plover.release_three(), plover.release_two())):
        (other / f"{number}.zip").write_bytes(item.data)
    index.run(context, [other])
    for most in (1, 2):
        monkeypatch.setattr(prove_draft, "MOST_OTHERS", most)
        done = accept_family.run(context, file, only_look=True)
        assert done.proof is not None
        assert {one.role for one in done.proof.counters} == {"legacy-boot-rom", "uefi-boot-rom"}
        assert len(done.proof.counters) == most * 2


def test_a_rom_that_names_both_modes_is_no_counter_example(context: Context, folder: Path, tmp_path: Path) -> None:
    """Such a ROM fits either mode: it would rightly be taken."""
    other = tmp_path / "other"
    other.mkdir()
    both = rom.Card(bittern.VENDOR, bittern.RAID, 0x010400, (bittern.RAID, bittern.PASS), 0x0829)
    (other / "both.rom").write_bytes(rom.legacy(both, "Corvane", "Both", "CVLB 8.41.0", noise("both", 9_000)))
    index.run(context, [other])
    one = tmp_path / "one"
    one.mkdir()
    for name, data in bittern_dos().items():
        (one / name).write_bytes(data)
    route = BITTERN.read_text(encoding="utf-8").split("[[route]]")
    file = drafted(one, ("[[route]]" + route[2], ""))
    done = accept_family.run(context, file, only_look=True)
    assert done.proof is not None
    assert done.proof.counters == ()
    (other / "bundle.zip").write_bytes(plover.release_three().data)
    index.run(context, [other])
    done = accept_family.run(context, file)
    assert done.settled, said(done)
    assert done.proof is not None
    assert {one.stops[0] for one in done.proof.counters} == {"other-family"}


def bittern_dos() -> dict[str, bytes]:
    """The pieces of one mode for the DOS bench, by name."""
    held: dict[str, bytes] = {}
    with zipfile.ZipFile(io.BytesIO(bittern.release_twelve().data)) as bundle:
        for name in bundle.namelist():
            if name.startswith(("pass/", "tools/dos/")) and not name.endswith("/"):
                held[name.rsplit("/", 1)[-1]] = bundle.read(name)
            if name.endswith("firmware-12.04.0.zip"):
                with zipfile.ZipFile(io.BytesIO(bundle.read(name))) as inner:
                    held["BTP12040.FW"] = inner.read("BTP12040.FW")
    return {name: data for name, data in held.items() if "UB" not in name}


def test_the_other_mode_s_rom_may_lie_in_the_catalogue_in_use(context: Context, tmp_path: Path, folder: Path) -> None:
    index.run(context, [folder])
    one = tmp_path / "one"
    one.mkdir()
    for name, data in bittern_dos().items():
        (one / name).write_bytes(data)
    route = BITTERN.read_text(encoding="utf-8").split("[[route]]")
    for changes, settles in [((), True), ((CUT,), False)]:
        done = accept_family.run(context, drafted(one, ("[[route]]" + route[2], ""), *changes))
        assert done.settled is settles
        assert ("nothing here tells the modes apart" in said(done)) is not settles


def test_chosen_pieces_are_found_in_the_catalogue(context: Context, folder: Path) -> None:
    index.run(context, [folder])
    chosen = [one.sha256 for one in pieces.run(context) if not one.kind.startswith("archive/")]
    file = drafted(folder, source=f"pieces = {json.dumps(chosen)}")
    folder.rename(folder.with_name("good2"))
    assert not accept_family.run(context, file).settled
    folder.with_name("good2").rename(folder)
    done = accept_family.run(context, file)
    assert done.settled, said(done)


@pytest.mark.parametrize("source", ['folder = ""', "pieces = [\"xy\"]", 'folder = "a", pieces = []', "other = 1"])
def test_a_source_that_is_none_is_a_problem(context: Context, folder: Path, source: str) -> None:
    done = accept_family.run(context, drafted(folder, source=source))
    assert "drafted" in said(done)


def test_the_command_line_says_what_was_tried(
    context: Context, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--catalogue", str(context.catalogue), "accept-family", str(drafted(folder)), "--json"]
    assert main(words) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["settled"] is True
    assert told["proof"]["counters"][0]["stops"] == ["other-mode"]
    assert main([*words[:-2], str(drafted(folder, CUT))]) == 1
    told_out = capsys.readouterr().out
    assert "nothing here tells the modes apart" in told_out
    assert ": taken" in told_out


def test_a_file_written_by_hand_needs_no_folder(context: Context, folder: Path) -> None:
    file = folder.parent / "hand.toml"
    file.write_text(BITTERN.read_text(encoding="utf-8").replace('"corvane-bittern"', '"hand"'), encoding="utf-8")
    done = accept_family.run(context, file)
    assert done.settled
    assert done.proof is None
