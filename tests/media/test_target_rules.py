"""Each rule of the medium: the fault planted, the exact code, level and place, and the sound cases left alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from catalogue.media.disk import Entry
from catalogue.media.medium import Boot, Changed, Differs, Folder, Listed, Medium, Needs, Space, Starter
from catalogue.media.plan import Clash
from catalogue.media.target_rules import FAT32_FILE, judge
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Word

WRITER, FIRMWARE = "a" * 64, "b" * 64
LISTED = (
    Listed("HAND.EXE", WRITER, "dos-program", ("writer",)),
    Listed("FW.BIN", FIRMWARE, "opaque", ("firmware",)),
    Listed("KIT.JSN", "c" * 64),
    Listed("RUNSHEET.TXT", "d" * 64),
)
ENTRIES = (*(Entry(one.name, "file", 10) for one in LISTED), Entry("SHA256.SUM", "file", 9))
FOLDER = Folder("BITT-7F3", None, LISTED, ENTRIES)
SOUND = Medium("/media/stick", (FOLDER,), (Entry("KITS.TXT", "file"), Entry("CARDS", "folder")), bench="dos")


def told(medium, *words):
    return [(one.code, one.level, one.role, one.piece, one.evidence[0].place) for one in judge(medium, words)]


def with_entry(*names, kind="file"):
    return replace(SOUND, folders=(replace(FOLDER, entries=(*ENTRIES, *(Entry(name, kind) for name in names))),))


def test_a_sound_medium_has_no_finding():
    assert told(SOUND) == []
    assert told(Medium("/empty")) == []


def test_name_clash_of_a_companion():
    clash = Clash("aux.dll", "writer", WRITER, "DOS cannot hold this name")
    assert told(replace(SOUND, clashes=(clash,))) == [("name-clash", Level.STOP, "writer", WRITER, "aux.dll")]


def test_name_clash_with_somebody_elses_file():
    folder = replace(FOLDER, foreign=(Clash("FW.BIN", "", "", "a file of this name, and it is not ours"),))
    found = judge(replace(SOUND, folders=(folder,)))
    assert [(one.code, one.level, one.clearable, one.evidence[0].place) for one in found] == [
        ("name-clash", Level.STOP, False, "BITT-7F3/FW.BIN")
    ]
    assert "Nothing was written over" in found[0].remedy


def test_name_clash_of_a_list_that_is_not_ours_says_what_to_do_with_that_file():
    found = judge(replace(SOUND, clashes=(Clash("KITS.TXT", "", "", "a file of this name, and it is not ours"),)))
    assert [one.code for one in found] == ["name-clash"]
    assert "Move that file away" in found[0].remedy


def test_name_clash_of_two_spellings():
    codes = told(with_entry("fw.bin"))
    assert ("name-clash", Level.STOP, None, None, "BITT-7F3/fw.bin") in codes


ROOM = Space(free=16_384 * 4, cluster=16_384, fat=True, root_left=2, files_left=None)


def test_too_small_by_one_cluster_and_not_where_it_just_fits():
    needs = Needs({"FW.BIN": 16_385, "KIT.JSN": 1}, 2)  # 2 clusters, 1 cluster, 1 for the folder
    assert told(replace(SOUND, space=ROOM, needs=needs)) == []
    short = replace(ROOM, free=16_384 * 4 - 1)
    found = judge(replace(SOUND, space=short, needs=needs))
    assert [one.code for one in found] == ["too-small"]
    assert found[0].level is Level.STOP
    assert found[0].evidence[0].want == str(16_384 * 4)


def test_too_small_a_root_folder():
    assert told(replace(SOUND, space=ROOM, needs=Needs({"A": 1}, 3))) == [
        ("too-small", Level.STOP, None, None, "/media/stick")
    ]


def test_too_large_a_file_for_fat():
    big = replace(ROOM, free=1 << 40)
    for size, codes in ((FAT32_FILE, []), (FAT32_FILE + 1, ["too-small"])):
        assert [one.code for one in judge(replace(SOUND, space=big, needs=Needs({"A": size}, 0)))] == codes
    linux = replace(SOUND, bench="linux", space=replace(big, fat=False), needs=Needs({"A": FAT32_FILE + 1}, 0))
    assert told(linux) == []


def test_too_few_files_left_on_a_volume():
    tight = replace(ROOM, fat=False, files_left=2, root_left=None)
    assert told(replace(SOUND, space=tight, needs=Needs({"A": 1}, 0))) == []
    assert [one[0] for one in told(replace(SOUND, space=tight, needs=Needs({"A": 1, "B": 1}, 0)))] == ["too-small"]


def test_a_full_volume_on_which_nothing_more_is_to_be_written_is_fine():
    assert told(replace(SOUND, space=replace(ROOM, free=0, files_left=0), needs=Needs())) == []


@pytest.mark.parametrize(("length", "codes"), [(127, []), (128, ["line-too-long"]), (400, ["line-too-long"])])
def test_line_too_long(length, codes):
    line = "HAND.EXE " + "x" * (length - 9)
    assert [one[0] for one in told(replace(SOUND, lines=(("load", line),)))] == codes
    assert told(replace(SOUND, lines=(("load", line),), bench="uefi")) == []


def test_line_too_long_by_its_tail_alone_cannot_be_and_a_redirection_is_no_part_of_it():
    line = "H " + "x" * 100 + " > " + "Y" * 12
    assert len(line) < 127
    assert told(replace(SOUND, lines=(("load", line),))) == []


def test_changed_since():
    changed = Changed("FW.BIN", FIRMWARE, "firmware", FIRMWARE, "f" * 64)
    assert told(replace(SOUND, changed=(changed,))) == [("changed-since", Level.STOP, "firmware", FIRMWARE, "FW.BIN")]


@pytest.mark.parametrize("code", ["changed-since", "read-back-differs", "shadowed", "name-clash"])
def test_no_word_clears_a_stop_of_the_medium(code):
    folder = replace(
        FOLDER,
        differs=(Differs("FW.BIN", "t", FIRMWARE, "e" * 64),),
        entries=(*ENTRIES, Entry("HAND.COM", "file")),
        foreign=(Clash("HAND.EXE", "writer", WRITER, "why"),),
    )
    changed = (Changed("FW.BIN", FIRMWARE, "firmware", FIRMWARE, "f" * 64),)
    words = [Word(code, piece, "why", "Ada") for piece in (FIRMWARE, WRITER)]
    found = [one for one in judge(replace(SOUND, folders=(folder,), changed=changed), tuple(words)) if one.code == code]
    assert [one.level for one in found] == [Level.STOP]


def test_read_back_differs_names_the_piece_and_its_role():
    differs = Differs("FW.BIN", "FW.BIN holds other bytes.", FIRMWARE, "e" * 64)
    found = judge(replace(SOUND, folders=(replace(FOLDER, differs=(differs,)),)))
    assert [(one.code, one.level, one.role, one.piece) for one in found] == [
        ("read-back-differs", Level.STOP, "firmware", FIRMWARE)
    ]
    assert (found[0].evidence[0].want, found[0].evidence[0].have) == (FIRMWARE, "e" * 64)


@pytest.mark.parametrize("name", ["HAND.COM", "hand.com"])
def test_shadowed_by_a_com(name):
    codes = [one[0] for one in told(with_entry(name))]
    assert codes == ["shadowed", "stray"]
    assert told(with_entry(name))[0][2:] == ("writer", WRITER, f"BITT-7F3/{name}")


@pytest.mark.parametrize("name", ["HAND.BAT", "HAND.TXT", "FW.COM", "HANDY.COM"])
def test_not_shadowed(name):
    assert [one[0] for one in told(with_entry(name))] == ["stray"]


def test_a_folder_of_that_name_shadows_nothing():
    assert [one[0] for one in told(with_entry("HAND.COM", kind="folder"))] == ["stray"]


def test_a_script_of_ours_is_shadowed_by_an_exe():
    folder = replace(FOLDER, listed=(*LISTED, Listed("RUN.BAT", "e" * 64, "script")))
    folder = replace(folder, entries=(*ENTRIES, Entry("RUN.BAT", "file"), Entry("RUN.EXE", "file")))
    assert [one[0] for one in told(replace(SOUND, folders=(folder,)))] == ["shadowed", "stray"]


def test_starts_itself_is_a_caution():
    found = judge(replace(SOUND, starters=(Starter("AUTOEXEC.BAT", ("@echo off", "keyb gr")),)))
    assert [(one.code, one.level, one.clearable, one.piece) for one in found] == [
        ("starts-itself", Level.CAUTION, False, None)
    ]
    assert "keyb gr" in found[0].evidence[0].have


@pytest.mark.parametrize(
    "line",
    [
        "hand scour 1",
        "A:\\BITT-7F3\\HAND.EXE scour 1",
        "@call hand",
        "if exist x HAND>out",
        'fs0:\\bitt-7f3\\"hand.exe"',
    ],
)
def test_starts_itself_and_runs_a_piece_waits_for_a_word(line):
    medium = replace(SOUND, starters=(Starter("startup.nsh", ("echo hi", line)),))
    found = judge(medium)
    assert [(one.code, one.level, one.clearable, one.role, one.piece) for one in found] == [
        ("starts-itself", Level.STOP, True, "writer", WRITER)
    ]
    assert found[0].evidence[0].field == "line 2"
    other = judge(medium, (Word("starts-itself", FIRMWARE, "why", "Ada"), Word("stray", WRITER, "why", "Ada")))
    assert other == found
    cleared = judge(medium, (Word("starts-itself", WRITER, "it is our own bench's", "Ada"),))
    assert [(one.level, one.cleared_by.by) for one in cleared] == [(Level.CAUTION, "Ada")]


@pytest.mark.parametrize("line", ["handy", "echo handle", "HAND2.EXE", "rem by-hand", "fw"])
def test_a_line_that_only_looks_like_a_piece_is_a_caution(line):
    found = judge(replace(SOUND, starters=(Starter("AUTOEXEC.BAT", (line,)),)))
    assert [(one.code, one.level) for one in found] == [("starts-itself", Level.CAUTION)]


def test_stray_files_beside_and_among_the_kits():
    medium = replace(with_entry("NOTES.TXT"), root=(*SOUND.root, Entry("holiday.jpg", "file"), Entry("X", "folder")))
    found = judge(medium)
    assert [(one.code, one.level) for one in found] == [("stray", Level.CAUTION)] * 2
    assert [one.place for one in found[0].evidence] == ["holiday.jpg", "X"]
    assert [one.place for one in found[1].evidence] == ["BITT-7F3/NOTES.TXT"]


def test_system_litter_is_no_stray():
    medium = replace(
        with_entry("Thumbs.db", ".DS_Store"), root=(*SOUND.root, Entry("System Volume Information", "folder"))
    )
    assert told(medium) == []


def test_many_strays_are_one_finding_with_a_bounded_list():
    found = judge(replace(SOUND, root=tuple(Entry(f"{n}", "file") for n in range(500))))
    assert len(found) == 1
    assert len(found[0].evidence) == 20
    assert "500" in found[0].text


def test_a_folder_too_full_to_look_at_is_said():
    assert [one[0] for one in told(replace(SOUND, more=True, folders=(replace(FOLDER, more=True),)))] == ["stray"] * 2


X64, AA64 = 0x8664, 0xAA64


@pytest.mark.parametrize(
    ("bench", "boot"),
    [
        ("uefi", Boot(())),
        ("uefi", Boot(("KERNEL.SYS",))),
        ("uefi", Boot(("EFI/BOOT/BOOTAA64.EFI",), X64)),
        ("dos", Boot(())),
        ("dos", Boot(("EFI/BOOT/BOOTX64.EFI",), X64)),
    ],
)
def test_nothing_to_start_from_is_a_caution(bench, boot):
    found = judge(replace(SOUND, bench=bench, boot=boot))
    assert [(one.code, one.level, one.evidence[0].place) for one in found] == [
        ("not-bootable", Level.CAUTION, "/media/stick")
    ]
    assert found[0].evidence[0].have == (", ".join(boot.files) or "none")


@pytest.mark.parametrize(
    ("bench", "boot"),
    [
        ("uefi", Boot(("EFI/BOOT/BOOTAA64.EFI",), AA64)),
        ("uefi", Boot(("EFI/BOOT/BOOTIA32.EFI", "EFI/BOOT/BOOTX64.EFI"), X64)),
        ("uefi", Boot(("EFI/BOOT/BOOTAA64.EFI",))),
        ("uefi", None),
        ("dos", Boot(("KERNEL.SYS",), X64)),
        ("dos", None),
        ("linux", Boot(())),
        ("clip", Boot(())),
        ("", Boot(())),
    ],
)
def test_a_medium_that_starts_the_bench_or_need_not_is_no_matter(bench, boot):
    assert "not-bootable" not in [one.code for one in judge(replace(SOUND, bench=bench, boot=boot))]
