"""Writing a kit: whole and named as planned, nothing of others touched, refused where it must be."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections import namedtuple
from contextlib import contextmanager
from dataclasses import replace
from io import BytesIO

import pytest

from catalogue.errors import BadCall, NotWorkable, Stopped
from catalogue.families.model import Role
from catalogue.media import medium as medium_facts
from catalogue.media import write_out as room
from catalogue.media.laying import mark_text
from catalogue.media.read_back import read_back
from catalogue.media.write_out import write
from catalogue.shapes.as_json import as_text
from catalogue.shapes.finding import Evidence, Finding, Level
from catalogue.shapes.from_json import kit_from_bytes
from catalogue.shapes.kit import Word
from tests.media.making import BYTES, CODE, EXTEND, FAMILY, FIRMWARE, KIT, NAMES, PIECES, WRITER, opener, other_kit, sha


def tree(folder):
    """Every file below `folder` with its bytes."""
    return {str(one.relative_to(folder)): one.read_bytes() for one in sorted(folder.rglob("*")) if one.is_file()}


def codes(done):
    return [(one.code, one.level.value) for one in done.findings]


def test_a_kit_is_written_whole_under_its_names_and_reads_back_the_same(tmp_path):
    done = write(KIT, FAMILY, opener(), tmp_path)
    assert (done.read_back, done.findings, done.folder, done.target) == ("same", (), CODE, str(tmp_path))
    folder = tmp_path / CODE
    assert {one.name for one in folder.iterdir()} == {*NAMES, "KIT.JSN", "RUNSHEET.TXT", "SHA256.SUM"}
    assert {one.name for one in tmp_path.iterdir()} == {CODE, "KITS.TXT"}
    assert (folder / "FIRM1204.BIN").read_bytes() == FIRMWARE
    assert (folder / "QHXTEND.BIN").read_bytes() == EXTEND
    assert kit_from_bytes((folder / "KIT.JSN").read_bytes()) == KIT
    assert (folder / "KIT.JSN").read_text() == as_text(KIT)
    assert {one.name for one in done.files} == {*NAMES, "KIT.JSN", "RUNSHEET.TXT", "SHA256.SUM"}
    for one in done.files:
        assert sha((folder / one.name).read_bytes()) == one.sha256
        assert (folder / one.name).stat().st_size == one.size
    roles = {one.name: one.role for one in done.files}
    assert (roles["FIRM1204.BIN"], roles["QHXTEND.BIN"], roles["KIT.JSN"]) == ("firmware", "writer", "")
    assert done.changes.media


@pytest.mark.outside
def test_sha256sum_proves_every_written_kit(tmp_path):
    """Source: GNU coreutils, `sha256sum -c`."""
    kit, family, content = other_kit()
    write(KIT, FAMILY, opener(), tmp_path)
    write(kit, family, opener(content), tmp_path)
    for folder in ("BITT-7F3", "PLOV-1AB"):
        checked = subprocess.run(
            ["sha256sum", "--strict", "-c", "SHA256.SUM"],
            cwd=tmp_path / folder,
            capture_output=True,
            text=True,
            check=True,
        )
        lines = checked.stdout.splitlines()
        assert all(line.endswith(": OK") for line in lines)
        assert {line.partition(":")[0] for line in lines} == {
            one.name for one in (tmp_path / folder).iterdir() if one.name != "SHA256.SUM"
        }


def test_the_same_kit_gives_the_same_medium_byte_for_byte(tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write(KIT, FAMILY, opener(), tmp_path / name)
    assert tree(tmp_path / "one") == tree(tmp_path / "two")


def test_two_kits_on_one_medium_are_both_listed_and_whole(tmp_path):
    kit, family, content = other_kit()
    write(KIT, FAMILY, opener(), tmp_path)
    first = tree(tmp_path / CODE)
    done = write(kit, family, opener(content), tmp_path)
    assert done.read_back == "same"
    assert tree(tmp_path / CODE) == first
    listed = (tmp_path / "KITS.TXT").read_text()
    assert "BITT-7F3" in listed
    assert "PLOV-1AB" in listed
    assert read_back(tmp_path).read_back == "same"


def test_writing_the_same_kit_again_writes_nothing_again(tmp_path):
    write(KIT, FAMILY, opener(), tmp_path)
    before = {one: (one.stat().st_mtime_ns, one.stat().st_ino) for one in tmp_path.rglob("*")}
    done = write(KIT, FAMILY, opener({}), tmp_path)
    assert done.read_back == "same"
    assert {one: (one.stat().st_mtime_ns, one.stat().st_ino) for one in tmp_path.rglob("*")} == before


@pytest.mark.parametrize("name", [*sorted(NAMES), "KIT.JSN", "RUNSHEET.TXT", "SHA256.SUM"])
@pytest.mark.parametrize("how", ["damaged", "gone", "cut"])
def test_writing_again_mends_what_the_medium_lost(tmp_path, name, how):
    write(KIT, FAMILY, opener(), tmp_path)
    before = tree(tmp_path)
    path = tmp_path / CODE / name
    data = path.read_bytes()
    path.unlink()
    if how == "damaged":
        path.write_bytes(bytes([data[0] ^ 1]) + data[1:])
    elif how == "cut":
        path.write_bytes(data[:-1])
    assert read_back(tmp_path).read_back == "differs"
    assert write(KIT, FAMILY, opener(), tmp_path).read_back == "same"
    assert tree(tmp_path) == before


@pytest.mark.parametrize("damage", [b"", b"garbage", None])
def test_writing_again_mends_our_list_in_the_root(tmp_path, damage):
    write(KIT, FAMILY, opener(), tmp_path)
    before = tree(tmp_path)
    (tmp_path / "KITS.TXT").unlink()
    if damage is not None:
        (tmp_path / "KITS.TXT").write_bytes((before["KITS.TXT"][:60] + damage) if damage else b"")
    assert write(KIT, FAMILY, opener(), tmp_path).read_back == "same"
    assert tree(tmp_path) == before


def stop():
    return Finding("role-empty", Level.STOP, "Nothing fills it.", (Evidence("p"),), "Find one.")


@pytest.mark.parametrize("kit", [replace(KIT, verdict="not-ready"), replace(KIT, findings=(stop(),))])
def test_a_kit_that_is_not_ready_is_not_written(tmp_path, kit):
    done = write(kit, FAMILY, opener(), tmp_path)
    assert (done.files, done.read_back) == ((), "")
    assert list(tmp_path.iterdir()) == []


def test_a_family_file_changed_since_it_was_judged_stops(tmp_path):
    done = write(KIT, replace(FAMILY, sha256="cd" * 32), opener(), tmp_path)
    assert codes(done) == [("changed-since", "stop")]
    assert list(tmp_path.iterdir()) == []


def other_bytes(data):
    return [b"", data[:-1], data + b"x", bytes([data[0] ^ 1]) + data[1:], data[:-1] + bytes([data[-1] ^ 0x80])]


@pytest.mark.parametrize("which", range(5))
def test_bytes_changed_since_they_were_judged_stop_and_leave_nothing(tmp_path, which):
    content = {**BYTES, sha(FIRMWARE): other_bytes(FIRMWARE)[which]}
    done = write(KIT, FAMILY, opener(content), tmp_path)
    assert codes(done) == [("changed-since", "stop")]
    finding = done.findings[0]
    assert (finding.role, finding.piece, finding.clearable) == ("firmware", sha(FIRMWARE), False)
    assert (done.files, done.read_back) == ((), "")
    assert list(tmp_path.iterdir()) == []


def test_a_piece_that_is_gone_is_changed_since_it_was_judged(tmp_path):
    done = write(KIT, FAMILY, opener({one: data for one, data in BYTES.items() if data != EXTEND}), tmp_path)
    assert [(one.code, one.piece) for one in done.findings] == [("changed-since", sha(EXTEND))]
    assert "index again" in done.findings[0].evidence[0].have
    assert list(tmp_path.iterdir()) == []


def test_a_source_that_fails_while_it_is_read_is_not_blamed_on_the_medium(tmp_path):
    class Failing(BytesIO):
        def read(self, size=-1):
            raise OSError(5, "bad disk")

    @contextmanager
    def failing(sha256):
        yield Failing()

    assert codes(write(KIT, FAMILY, failing, tmp_path)) == [("changed-since", "stop")]


@pytest.mark.parametrize(
    "name", [*sorted(NAMES), "KIT.JSN", "SHA256.SUM", "RUNSHEET.TXT", "HALFWAY.KIT", "firm1204.bin"]
)
def test_somebody_elses_file_of_the_same_name_is_not_touched(tmp_path, name):
    folder = tmp_path / CODE
    folder.mkdir()
    (folder / name).write_bytes(b"mine")
    (folder / "OTHER.TXT").write_bytes(b"also mine")
    before = tree(tmp_path)
    done = write(KIT, FAMILY, opener(), tmp_path)
    stops = [one for one in done.findings if one.level is Level.STOP]
    assert [one.code for one in stops] == ["name-clash"]
    assert stops[0].evidence[0].place == f"{CODE}/{name}"
    assert done.files == ()
    assert tree(tmp_path) == before


def test_other_files_in_the_folder_and_beside_it_stay_and_are_said(tmp_path):
    (tmp_path / CODE).mkdir()
    (tmp_path / CODE / "NOTES.TXT").write_bytes(b"mine")
    (tmp_path / "holiday.jpg").write_bytes(b"mine")
    (tmp_path / "System Volume Information").mkdir()
    done = write(KIT, FAMILY, opener(), tmp_path)
    assert done.read_back == "same"
    assert codes(done) == [("stray", "caution"), ("stray", "caution")]
    assert (tmp_path / CODE / "NOTES.TXT").read_bytes() == b"mine"
    assert (tmp_path / "holiday.jpg").read_bytes() == b"mine"


@pytest.mark.parametrize("what", ["file", "link", "broken link", "fifo"])
def test_something_else_of_the_folders_name_stops(tmp_path, what):
    target = tmp_path / "medium"
    target.mkdir()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    path = target / CODE
    if what == "file":
        path.write_bytes(b"mine")
    elif what == "link":
        path.symlink_to(elsewhere)
    elif what == "broken link":
        path.symlink_to(tmp_path / "nowhere")
    else:
        os.mkfifo(path)
    done = write(KIT, FAMILY, opener(), target)
    assert codes(done)[0] == ("name-clash", "stop")
    assert list(elsewhere.iterdir()) == []


def test_a_link_in_our_own_folder_is_not_written_through(tmp_path):
    outside = tmp_path / "outside"
    outside.write_bytes(b"mine")
    target = tmp_path / "medium"
    target.mkdir()
    write(KIT, FAMILY, opener(), target)
    path = target / CODE / "FIRM1204.BIN"
    path.unlink()
    path.symlink_to(outside)
    assert codes(write(KIT, FAMILY, opener(), target))[0] == ("name-clash", "stop")
    assert outside.read_bytes() == b"mine"


@pytest.mark.parametrize("data", [b"my own list\n", b"\0" * 300_000])
def test_somebody_elses_kits_txt_stops(tmp_path, data):
    (tmp_path / "KITS.TXT").write_bytes(data)
    done = write(KIT, FAMILY, opener(), tmp_path)
    assert codes(done)[0] == ("name-clash", "stop")
    assert tree(tmp_path) == {"KITS.TXT": data}


def test_another_kits_folder_of_the_same_code_stops(tmp_path):
    write(KIT, FAMILY, opener(), tmp_path)
    before = tree(tmp_path)
    done = write(replace(KIT, id="7f3" + "9" * 61), FAMILY, opener(), tmp_path)
    assert codes(done)[0] == ("name-clash", "stop")
    assert tree(tmp_path) == before


def test_a_half_written_attempt_of_ours_is_completed(tmp_path):
    folder = tmp_path / CODE
    folder.mkdir()
    (folder / "HALFWAY.KIT").write_bytes(mark_text(KIT.id))
    (folder / "WRITE00.TMP").write_bytes(b"half of it")
    (folder / "FIRM1204.BIN").write_bytes(FIRMWARE)
    (folder / "QUAYHAND.EXE").write_bytes(b"garbage after a power cut")
    (folder / "NOTES.TXT").write_bytes(b"mine")
    assert read_back(tmp_path).read_back == "differs"
    done = write(KIT, FAMILY, opener(), tmp_path)
    assert done.read_back == "same"
    assert {one.name for one in folder.iterdir()} == {
        *NAMES, "KIT.JSN", "RUNSHEET.TXT", "SHA256.SUM", "NOTES.TXT",
    }  # fmt: skip


@pytest.mark.parametrize("mark", [b"", b"This folder is a half"])
def test_a_mark_that_was_cut_short_in_an_empty_folder_is_ours(tmp_path, mark):
    (tmp_path / CODE).mkdir()
    (tmp_path / CODE / "HALFWAY.KIT").write_bytes(mark)
    assert write(KIT, FAMILY, opener(), tmp_path).read_back == "same"


def test_a_half_written_attempt_at_another_kit_is_not_ours_to_complete(tmp_path):
    (tmp_path / CODE).mkdir()
    (tmp_path / CODE / "HALFWAY.KIT").write_bytes(mark_text("7f3" + "9" * 61))
    (tmp_path / CODE / "FIRM1204.BIN").write_bytes(b"of the other")
    assert codes(write(KIT, FAMILY, opener(), tmp_path))[0] == ("name-clash", "stop")


def test_a_piece_that_got_another_name_since_leaves_no_file_behind(tmp_path):
    write(KIT, FAMILY, opener(), tmp_path)
    pieces = tuple(replace(one, name="load.bin") if one.name == "pass.rom" else one for one in PIECES)
    renamed = replace(
        KIT, pieces=tuple(replace(one, name="boot.rom") if one.name == "load.bin" else one for one in pieces)
    )
    done = write(renamed, FAMILY, opener(), tmp_path)
    assert done.read_back == "same"
    assert done.findings == ()
    assert not (tmp_path / CODE / "PASS.ROM").exists()
    assert (tmp_path / CODE / "BOOT.ROM").exists()


def test_somebody_elses_file_in_our_own_folder_is_not_written_over(tmp_path):
    write(KIT, FAMILY, opener(), tmp_path)
    (tmp_path / CODE / "BOOT.ROM").write_bytes(b"mine")
    renamed = replace(
        KIT, pieces=tuple(replace(one, name="boot.rom") if one.name == "pass.rom" else one for one in PIECES)
    )
    assert codes(write(renamed, FAMILY, opener(), tmp_path))[0] == ("name-clash", "stop")
    assert (tmp_path / CODE / "BOOT.ROM").read_bytes() == b"mine"


Volume = namedtuple("Volume", "f_frsize f_bsize f_blocks f_bavail f_files f_favail")


def test_one_cluster_short_is_said_before_anything_is_written(tmp_path, monkeypatch):
    def on(clusters):
        monkeypatch.setattr(os, "statvfs", lambda path: Volume(4096, 4096, 1000, clusters, 0, 0))
        return write(KIT, FAMILY, opener(), tmp_path)

    enough = next(count for count in range(500) if not on(count).findings)
    shutil.rmtree(tmp_path / CODE)
    (tmp_path / "KITS.TXT").unlink()
    done = on(enough - 1)
    assert codes(done) == [("too-small", "stop")]
    assert list(tmp_path.iterdir()) == []
    pieces = sum(-(-len(data) // 4096) for data in BYTES.values())
    assert pieces + 5 <= enough <= pieces + 9  # KIT.JSN, RUNSHEET.TXT, SHA256.SUM, KITS.TXT, our mark, the folder


def test_a_full_root_folder_of_a_fat_volume_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(medium_facts, "_is_fat", lambda path: True)
    monkeypatch.setattr("pathlib.Path.is_mount", lambda path: True)
    monkeypatch.setattr(os, "statvfs", lambda path: Volume(512, 512, 2847, 2000, 0, 0))
    for number in range(222):
        (tmp_path / f"{number}").touch()
    assert ("too-small", "stop") in codes(write(KIT, FAMILY, opener(), tmp_path))


def test_a_line_too_long_for_dos_is_said_before_anything_is_written(tmp_path):
    route = FAMILY.routes[0]
    steps = (replace(route.steps[7], type="{writer} name {slot} {sas} {serial} " + "x" * 60),)
    done = write(KIT, replace(FAMILY, routes=(replace(route, steps=steps),)), opener(), tmp_path)
    assert codes(done) == [("line-too-long", "stop")]
    assert list(tmp_path.iterdir()) == []


def test_a_companion_that_dos_cannot_hold_is_said_before_anything_is_written(tmp_path):
    roles = {**FAMILY.roles, "writer": Role("writer", companions={"dos": ("aux.bin",)})}
    done = write(KIT, replace(FAMILY, roles=roles), opener(), tmp_path)
    assert codes(done) == [("name-clash", "stop")]
    assert (done.findings[0].role, done.findings[0].piece) == ("writer", sha(EXTEND))
    assert list(tmp_path.iterdir()) == []


def test_a_program_that_would_run_in_the_stead_of_ours_stops(tmp_path):
    (tmp_path / CODE).mkdir()
    (tmp_path / CODE / "QUAYHAND.COM").write_bytes(b"\xcd\x20")
    done = write(KIT, FAMILY, opener(), tmp_path)
    assert codes(done) == [("shadowed", "stop"), ("stray", "caution")]
    assert done.files == ()


def test_a_medium_that_starts_our_utility_by_itself_stops_until_a_word_is_given(tmp_path):
    (tmp_path / "AUTOEXEC.BAT").write_bytes(b"@echo off\r\ncd \\BITT-7F3\r\nQUAYHAND scour 1\r\n")
    assert codes(write(KIT, FAMILY, opener(), tmp_path)) == [("starts-itself", "stop"), ("stray", "caution")]
    worded = replace(KIT, words=(Word("starts-itself", sha(WRITER), "our own bench", "Ada"),))
    done = write(worded, FAMILY, opener(), tmp_path)
    assert (done.read_back, codes(done)) == ("same", [("starts-itself", "caution"), ("stray", "caution")])
    assert done.findings[0].cleared_by.by == "Ada"
    assert read_back(tmp_path).read_back == "same"


@pytest.mark.parametrize("target", ["nowhere", "a file"])
def test_a_target_that_is_no_folder_is_a_wrong_call(tmp_path, target):
    (tmp_path / "a file").touch()
    with pytest.raises(BadCall, match=target):
        write(KIT, FAMILY, opener(), tmp_path / target)


class StopAt:
    def __init__(self, at):
        self.at, self.seen = at, []

    def report(self, done, total, what):
        self.seen.append((done, total, what))
        if len(self.seen) > self.at:
            raise Stopped("Stopped.")


def test_progress_adds_up(tmp_path):
    told = StopAt(10_000)
    write(KIT, FAMILY, opener(), tmp_path, told)
    assert [done for done, _, _ in told.seen] == sorted(done for done, _, _ in told.seen)
    done, total, what = told.seen[-1]
    assert done == total
    assert what.startswith("reading back")


@pytest.mark.parametrize("at", range(18))
def test_stopping_anywhere_leaves_a_whole_kit_or_none(tmp_path, at):
    try:
        write(KIT, FAMILY, opener(), tmp_path, StopAt(at))
    except Stopped:
        if (tmp_path / CODE).exists():
            assert read_back(tmp_path).read_back == "same"
        else:
            assert list(tmp_path.iterdir()) == []
    assert write(KIT, FAMILY, opener(), tmp_path).read_back == "same"


def test_a_program_for_a_linux_bench_may_be_run(tmp_path):
    pieces = tuple(replace(one, kind="linux-program") if one.name == "QuayHand.exe" else one for one in PIECES)
    done = write(replace(KIT, pieces=pieces), FAMILY, opener(), tmp_path)
    name = next(one.name for one in done.files if one.role == "writer" and one.name != "QHXTEND.BIN")
    assert os.access(tmp_path / CODE / name, os.X_OK)


def test_a_list_that_does_not_come_back_as_written_is_said(tmp_path, monkeypatch):
    real = room.kit_folder.papers

    def lying(path):
        read = real(path)
        (path / "SHA256.SUM").write_bytes((path / "SHA256.SUM").read_bytes()[70:])
        return read

    monkeypatch.setattr(room.kit_folder, "papers", lying)
    done = write(KIT, FAMILY, opener(), tmp_path)
    assert (done.read_back, codes(done)) == ("differs", [("read-back-differs", "stop")])


def test_a_target_that_may_not_be_written_is_one_sentence(tmp_path, monkeypatch):
    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.mkdir", refuse)
    with pytest.raises(NotWorkable, match="may not be used"):
        write(KIT, FAMILY, opener(), tmp_path)
