"""Reading a medium back: every changed, added, removed and renamed file shows; no medium can harm the reader."""

from __future__ import annotations

import json
import os
import random
import shutil
import time

import pytest

from catalogue.errors import BadCall, Stopped
from catalogue.media.read_back import looks_like_code, read_back
from catalogue.media.write_out import write
from tests.media.making import CODE, FAMILY, KIT, NAMES, opener, other_kit, sha

COVERED = sorted({*NAMES, "KIT.JSN", "RUNSHEET.TXT"})


@pytest.fixture(scope="module")
def master(tmp_path_factory):
    folder = tmp_path_factory.mktemp("master")
    kit, family, content = other_kit()
    write(KIT, FAMILY, opener(), folder)
    write(kit, family, opener(content), folder)
    return folder


@pytest.fixture
def medium(master, tmp_path):
    shutil.copytree(master, tmp_path / "medium")
    return tmp_path / "medium"


def states(done):
    return {one.name: one.state for one in done.files}


def codes(done):
    return [(one.code, one.level.value) for one in done.findings]


def test_a_written_medium_is_the_same(medium):
    done = read_back(medium)
    assert (done.read_back, done.findings, done.target) == ("same", (), str(medium))
    assert set(states(done).values()) == {"same"}
    assert {f"{CODE}/{name}" for name in COVERED} < set(states(done))


def test_one_kits_folder_is_read_by_itself_wherever_it_lies(medium, tmp_path):
    done = read_back(medium / CODE)
    assert (done.read_back, set(states(done))) == ("same", set(COVERED))
    shutil.copytree(medium / CODE, tmp_path / "copied")
    assert read_back(tmp_path / "copied").read_back == "same"


@pytest.mark.parametrize("name", [*COVERED, "SHA256.SUM"])
def test_any_changed_byte_is_noticed(medium, name):
    path = medium / CODE / name
    data = bytearray(path.read_bytes())
    picks = random.Random(name)
    for at in {0, len(data) - 1, *(picks.randrange(len(data)) for _ in range(12))}:
        changed = bytearray(data)
        changed[at] ^= 1 << picks.randrange(8)
        path.write_bytes(changed)
        for target in (medium, medium / CODE):
            done = read_back(target)
            assert done.read_back == "differs", (name, at)
            assert ("read-back-differs", "stop") in codes(done)
    if name != "SHA256.SUM":
        assert states(read_back(medium))[f"{CODE}/{name}"] == "differs"
    assert read_back(medium / "PLOV-1AB").read_back == "same"


@pytest.mark.parametrize("name", [*COVERED, "SHA256.SUM"])
def test_any_removed_file_is_noticed(medium, name):
    (medium / CODE / name).unlink()
    done = read_back(medium)
    assert done.read_back == "differs"
    assert states(done)[f"{CODE}/{name}"] == "missing"


@pytest.mark.parametrize("name", [*COVERED, "SHA256.SUM"])
def test_any_renamed_file_is_noticed(medium, name):
    (medium / CODE / name).rename(medium / CODE / "OTHER.X")
    done = read_back(medium)
    assert done.read_back == "differs"
    assert states(done)[f"{CODE}/{name}"] == "missing"
    assert states(done)[f"{CODE}/OTHER.X"] == "stray"


@pytest.mark.parametrize("where", ["", CODE])
def test_any_added_file_is_noticed(medium, where):
    (medium / where / "ADDED.BIN").write_bytes(b"x")
    done = read_back(medium)
    assert (done.read_back, codes(done)) == ("same", [("stray", "caution")])
    assert states(done)[f"{where}/ADDED.BIN".lstrip("/")] == "stray"


def test_two_files_that_swapped_their_names_are_noticed(medium):
    folder = medium / CODE
    (folder / "FIRM1204.BIN").rename(folder / "X")
    (folder / "EEPROM.BIN").rename(folder / "FIRM1204.BIN")
    (folder / "X").rename(folder / "EEPROM.BIN")
    found = states(read_back(medium))
    assert (found[f"{CODE}/FIRM1204.BIN"], found[f"{CODE}/EEPROM.BIN"]) == ("differs", "differs")


def test_a_kit_folder_without_its_list_is_no_kit_and_is_said(medium):
    (medium / CODE / "SHA256.SUM").unlink()
    done = read_back(medium)
    assert "no kit" in " ".join(one.text for one in done.findings)
    (medium / CODE / "KIT.JSN").unlink()
    assert read_back(medium).read_back == "differs"
    (medium / "KITS.TXT").unlink()
    assert read_back(medium).read_back == "differs"  # a run sheet in a folder that bears a kit's code


def test_a_kit_that_was_taken_off_is_said_by_the_list(medium):
    shutil.rmtree(medium / CODE)
    done = read_back(medium)
    assert (done.read_back, states(done)[CODE]) == ("differs", "missing")


def test_a_folder_that_bears_another_kits_code_is_noticed(medium):
    (medium / "KITS.TXT").unlink()
    (medium / CODE).rename(medium / "x")
    (medium / "PLOV-1AB").rename(medium / CODE)
    found = [one.text for one in read_back(medium).findings]
    assert "The folder BITT-7F3 holds the kit PLOV-1AB." in found
    assert "The folder x holds the kit BITT-7F3." in found


def test_every_changed_byte_of_our_list_is_noticed(medium):
    data = bytearray((medium / "KITS.TXT").read_bytes())
    for at in range(0, len(data), 7):
        changed = bytearray(data)
        changed[at] ^= 4
        (medium / "KITS.TXT").write_bytes(changed)
        assert read_back(medium).read_back == "differs"


def rewritten(medium, change):
    """KIT.JSN altered, and SHA256.SUM altered to fit: only a cross-check can notice."""
    folder = medium / CODE
    value = json.loads((folder / "KIT.JSN").read_bytes())
    change(value)
    new = json.dumps(value).encode()
    old = (folder / "KIT.JSN").read_bytes()
    (folder / "KIT.JSN").write_bytes(new)
    sums = (folder / "SHA256.SUM").read_bytes()
    (folder / "SHA256.SUM").write_bytes(sums.replace(sha(old).encode(), sha(new).encode()))
    return read_back(medium)


@pytest.mark.parametrize(
    "change",
    [
        lambda kit: kit.update(verdict="not-ready"),
        lambda kit: kit["findings"].append(
            {"code": "x", "level": "stop", "clearable": False, "cleared_by": None, "role": None, "piece": None,
             "text": "t", "evidence": [{"place": "p", "field": "", "offset": None, "length": None, "want": "",
                                        "have": ""}], "remedy": "r"}
        ),
        lambda kit: kit["roles"][0].update(pieces=["0" * 64]),
        lambda kit: kit["roles"][0].update(pieces=[]),
        lambda kit: kit["pieces"][0].update(size=1),
        lambda kit: kit.update(id="999"),
    ],
)  # fmt: skip
def test_papers_that_fit_each_other_but_not_the_kit_are_noticed(medium, change):
    assert rewritten(medium, lambda kit: None).read_back == "same"
    assert rewritten(medium, change).read_back == "differs"


def test_a_file_slipped_in_with_its_own_line_is_noticed(medium):
    folder = medium / CODE
    (folder / "EVIL.COM").write_bytes(b"\xcd\x20")
    with (folder / "SHA256.SUM").open("ab") as sums:
        sums.write(f"{sha(bytes([0xCD, 0x20]))}  EVIL.COM\n".encode())
    assert read_back(medium).read_back == "differs"


@pytest.mark.parametrize("data", [b"", b"{}", b"[]", b"\xff\xfe", b"[" * 100_000, b'{"a":1,"a":2}', b"x" * (17 << 20)])
def test_an_unreadable_kit_is_a_stop(medium, data):
    (medium / CODE / "KIT.JSN").write_bytes(data)
    done = read_back(medium)
    assert done.read_back == "differs"
    assert any("KIT.JSN" in one.text for one in done.findings)


def test_a_piece_taken_away_with_its_own_line_is_noticed(medium):
    folder = medium / CODE
    (folder / "PASS.ROM").unlink()
    lines = (folder / "SHA256.SUM").read_text().splitlines(keepends=True)
    (folder / "SHA256.SUM").write_text("".join(line for line in lines if "PASS.ROM" not in line))
    assert read_back(medium).read_back == "differs"


def test_a_paper_of_a_giant_size_is_not_read(medium):
    with (medium / CODE / "RUNSHEET.TXT").open("r+b") as giant:
        giant.truncate(1 << 40)
    started = time.monotonic()
    done = read_back(medium)
    assert time.monotonic() - started < 5
    assert states(done)[f"{CODE}/RUNSHEET.TXT"] == "differs"


def test_an_empty_folder_is_no_medium_of_ours_and_is_said(tmp_path):
    done = read_back(tmp_path)
    assert (done.read_back, codes(done), done.files) == ("differs", [("read-back-differs", "stop")], ())


@pytest.mark.parametrize("name", ["nowhere", "a file"])
def test_no_such_folder_is_a_wrong_call(tmp_path, name):
    (tmp_path / "a file").touch()
    with pytest.raises(BadCall, match=name):
        read_back(tmp_path / name)


def test_a_hostile_medium_is_read_without_harm(medium, tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret").write_bytes(b"x")
    folder = medium / CODE
    for name in ("FIRM1204.BIN", "EEPROM.BIN", "PASS.ROM", "QUAYHAND.EXE"):
        (folder / name).unlink()
    (folder / "FIRM1204.BIN").symlink_to(outside / "secret")
    os.mkfifo(folder / "EEPROM.BIN")
    (folder / "PASS.ROM").mkdir()
    with (folder / "QUAYHAND.EXE").open("wb") as giant:
        giant.truncate(1 << 40)
    os.mkfifo(medium / "AUTOEXEC.BAT")
    (medium / "LINK-123").symlink_to(outside)
    (medium / ("n" * 255)).touch()
    (medium / os.fsdecode(b"\xff\x1b[2J\n")).touch()
    deep = medium / "deep"
    for _ in range(300):
        deep = deep / "d"
    deep.mkdir(parents=True)
    started = time.monotonic()
    done = read_back(medium)
    assert time.monotonic() - started < 5
    found = states(done)
    assert [found[f"{CODE}/{name}"] for name in ("FIRM1204.BIN", "EEPROM.BIN", "PASS.ROM", "QUAYHAND.EXE")] == [
        "differs"
    ] * 4
    assert found["deep"] == found["LINK-123"] == found["n" * 255] == "stray"
    assert not any(name.startswith("deep/") for name in found)


def test_links_to_our_papers_are_not_followed(medium, tmp_path):
    for name in ("KIT.JSN", "SHA256.SUM"):
        (medium / CODE / name).rename(tmp_path / name)
        (medium / CODE / name).symlink_to(tmp_path / name)
        assert read_back(medium).read_back == "differs"


def test_more_files_than_any_medium_of_ours_holds_are_bounded_and_said(tmp_path, medium):
    for number in range(5_100):
        (medium / f"{number}").touch()
    done = read_back(medium)
    assert any("not all were looked at" in one.text for one in done.findings)
    assert len(done.files) < 5_200


def test_an_unrelated_list_beside_the_kits_does_not_hide_them(medium):
    (medium / "SHA256.SUM").write_bytes(b"x\n")
    done = read_back(medium)
    assert states(done)[f"{CODE}/FIRM1204.BIN"] == "same"
    assert states(done)["SHA256.SUM"] == "stray"


def test_our_mark_left_behind_on_a_whole_kit_is_only_a_stray(medium):
    (medium / CODE / "HALFWAY.KIT").write_bytes(b"x")
    assert (read_back(medium).read_back, states(read_back(medium))[f"{CODE}/HALFWAY.KIT"]) == ("same", "stray")


def test_progress_counts_every_byte_and_stops(medium):
    seen = []

    class Told:
        def report(self, done, total, what):
            seen.append((done, total))

    read_back(medium, Told())
    assert seen[0][0] == 0
    assert seen[-1][0] == seen[-1][1] > 0

    class Stop:
        def report(self, done, total, what):
            if done:
                raise Stopped("Stopped.")

    with pytest.raises(Stopped):
        read_back(medium, Stop())


@pytest.mark.parametrize("name", ["BITT-7F3", "A-000"])
def test_the_form_of_a_short_code(name):
    assert looks_like_code(name)


@pytest.mark.parametrize("name", ["BITTE-7F3", "bitt-7f3", "BITT7F3", "-7F3", "BITT-7F", "B1-7F3", ""])
def test_not_the_form_of_a_short_code(name):
    assert not looks_like_code(name)
