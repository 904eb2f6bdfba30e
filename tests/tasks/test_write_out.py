"""Kits, words and write-out through the tasks, on the demo's bundles."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from catalogue.errors import BadCall
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Pin, Word
from catalogue.tasks import index, kit, read_back, words, write_out
from catalogue.tasks.context import Context
from sample_bundles.make import Made, make

FAMILY = "corvane-bittern"


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Made]:
    base = tmp_path_factory.mktemp("stocked")
    made = make(base / "downloads")
    index.run(Context(str(base / "catalogue.db")), [made.folder])
    return base, made


@pytest.fixture
def bench(stocked: tuple[Path, Made], tmp_path: Path) -> tuple[Context, Path]:
    """A copy of the stocked catalogue, and an empty medium."""
    base, _made = stocked
    for file in base.glob("catalogue.db*"):
        (shutil.copytree if file.is_dir() else shutil.copy)(file, tmp_path / file.name)
    medium = tmp_path / "medium"
    medium.mkdir()
    return Context(str(tmp_path / "catalogue.db")), medium


def test_a_ready_kit_is_written_and_reads_back_the_same(bench: tuple[Context, Path]) -> None:
    """Outside check: coreutils' sha256sum proves the folder by itself."""
    context, medium = bench
    done = write_out.run(context, FAMILY, medium)
    assert done.read_back == "same"
    assert done.kit.verdict == "ready"
    again = read_back.run(medium)
    assert again.read_back == "same"
    assert {one.state for one in again.files} == {"same"}
    proof = subprocess.run(
        ["sha256sum", "-c", "--strict", "SHA256.SUM"], cwd=medium / done.folder, capture_output=True, check=False
    )
    assert proof.returncode == 0, proof.stderr


def test_a_kit_that_is_not_ready_leaves_the_medium_untouched(
    bench: tuple[Context, Path], stocked: tuple[Path, Made]
) -> None:
    context, medium = bench
    wrong = next(
        one for one in stocked[1].pieces if one.tempts == ("other-mode",) and one.roles == ("legacy-boot-rom",)
    )
    pin = Pin("legacy-boot-rom", wrong.sha256, "trying it")
    done = write_out.run(context, FAMILY, medium, pins=[pin])
    assert done.kit.verdict == "not-ready"
    assert done.files == ()
    assert list(medium.iterdir()) == []


def test_a_kit_is_made_again_when_the_downloads_are_gone(
    bench: tuple[Context, Path], stocked: tuple[Path, Made], tmp_path: Path
) -> None:
    """By its id, from the kept pieces, and also after the empty folder was indexed again."""
    context, medium = bench
    first = write_out.run(context, FAMILY, medium)
    pieces = {(one.name, one.sha256) for one in first.files if one.role}
    lost = tmp_path / "lost"
    stocked[1].folder.rename(lost)
    try:
        for number in range(2):
            other = tmp_path / f"elsewhere{number}"
            other.mkdir()
            again = write_out.run(context, FAMILY, other, kit_id=first.kit.id)
            assert again.read_back == "same", again.findings
            assert {(one.name, one.sha256) for one in again.files if one.role} == pieces
            stocked[1].folder.mkdir(exist_ok=True)
            assert index.run(context, [stocked[1].folder]).gone > 0 or number
    finally:
        stocked[1].folder.rmdir()
        lost.rename(stocked[1].folder)


def test_a_kit_id_holds_only_while_nothing_moved(bench: tuple[Context, Path], stocked: tuple[Path, Made]) -> None:
    context, medium = bench
    judged = kit.run(context, FAMILY)
    left_out = next(one for one in judged.roles if one.role == "uefi-boot-rom").others[0].piece
    words.give(context, FAMILY, "unvouched", left_out, "compared by hand with the maker's paper", "Ada Quill")
    done = write_out.run(context, FAMILY, medium, kit_id=judged.id)
    assert [one.code for one in done.findings] == ["changed-since"]
    assert done.files == ()
    assert list(medium.iterdir()) == []
    now = write_out.run(context, FAMILY, medium)
    assert "uefi-boot-rom" in {one.role for one in now.files}
    told = json.loads((medium / now.folder / "KIT.JSN").read_text())
    assert any(one["cleared_by"] and one["cleared_by"]["by"] == "Ada Quill" for one in told["findings"])


def test_what_nobody_judged_cannot_be_written_by_id(bench: tuple[Context, Path]) -> None:
    context, medium = bench
    with pytest.raises(BadCall, match="No kit"):
        write_out.run(context, FAMILY, medium, kit_id="0" * 64)
    with pytest.raises(BadCall, match="no folder"):
        write_out.run(context, FAMILY, medium / "not-there")
    other = kit.run(context, "corvane-heron")
    with pytest.raises(BadCall, match="corvane-heron"):
        write_out.run(context, FAMILY, medium, kit_id=other.id)


def test_words_and_pins_must_name_what_exists(bench: tuple[Context, Path]) -> None:
    context, _medium = bench
    piece = kit.run(context, FAMILY).pieces[0].sha256
    for word, said in (
        (Word("other-mode", piece, "because", "Ada Quill"), "No word clears"),
        (Word("no-such-code", piece, "because", "Ada Quill"), "No rule"),
        (Word("unvouched", "ffff" * 16, "because", "Ada Quill"), "No piece"),
        (Word("unvouched", piece, " ", "Ada Quill"), "reason"),
    ):
        with pytest.raises(BadCall, match=said):
            kit.run(context, FAMILY, words=[word])
    with pytest.raises(BadCall, match="no role"):
        kit.run(context, FAMILY, pins=[Pin("sail", piece, "because")])
    with pytest.raises(BadCall, match="hex digits"):
        kit.run(context, FAMILY, pins=[Pin("firmware", "xyz", "because")])


def test_judging_twice_gives_the_same_kit(bench: tuple[Context, Path]) -> None:
    context, _medium = bench
    assert kit.run(context, FAMILY) == kit.run(context, FAMILY)


def test_a_word_on_the_medium_lets_a_starting_script_pass(bench: tuple[Context, Path]) -> None:
    context, medium = bench
    (medium / "AUTOEXEC.BAT").write_bytes(b"@ECHO OFF\r\nQHAND.EXE look\r\n")
    refused = write_out.run(context, FAMILY, medium)
    (stop,) = [one for one in refused.findings if one.code == "starts-itself"]
    assert (stop.level, stop.clearable, refused.files) == (Level.STOP, True, ())
    words.give(context, FAMILY, "starts-itself", stop.piece or "", "it only lists the card", "Ada Quill")
    done = write_out.run(context, FAMILY, medium)
    assert done.files
    (caution,) = [one for one in done.findings if one.code == "starts-itself"]
    assert caution.cleared_by is not None
    assert caution.level is Level.CAUTION


def test_pieces_that_went_away_before_they_were_looked_through_are_said(tmp_path: Path) -> None:
    folder = tmp_path / "downloads"
    folder.mkdir()
    (folder / "one.bin").write_bytes(bytes(range(256)))
    context = Context(str(tmp_path / "catalogue.db"))
    index.run(context, [folder])
    (folder / "one.bin").unlink()
    assert any("One piece could not be looked through" in line for line in kit.run(context, FAMILY).said)
    index.run(context, [folder])
    assert not any("looked through" in line for line in kit.run(context, FAMILY).said)
