"""8.3 names: legal, distinct, the same whatever the order, and readable."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.media import names83
from catalogue.media.names83 import Wanted, assign, is_device, is_legal, is_plain, short_code

# ECMA-107 and the FAT specification restated by hand, apart from the code: the trade's own pattern of a short name.
FAT_SHORT = re.compile(r"[A-Z0-9!#$%&'()\-@^_`{}~]{1,8}(\.[A-Z0-9!#$%&'()\-@^_`{}~]{1,3})?")
ISO_LEVEL_1 = re.compile(r"[A-Z0-9_]{1,8}\.[A-Z0-9_]{0,3}|[A-Z0-9_]{1,8}")
DEVICE = re.compile(r"(CON|PRN|AUX|NUL|CLOCK\$|CONIN\$|CONOUT\$|(COM|LPT)[1-9\xb9\xb2\xb3])(\..*)?", re.DOTALL)

had = st.one_of(
    st.text(max_size=20),
    st.from_regex(
        r"(con|aux|run|copy|fw|autoexec|lpt1|fw 12|x)\.(bin|exe|com|bat|rom|tmp|nsh|7z|0|bins)", fullmatch=True
    ),
)
wants = st.lists(
    st.builds(
        Wanted,
        key=st.text("0123456789abcdef", min_size=4, max_size=8),
        had=had,
        roles=st.lists(
            st.sampled_from(["firmware", "legacy-boot-rom", "writer", "con", "run", "copy", "é-x", ""]), max_size=2
        ).map(tuple),
        version=st.none() | st.sampled_from(["12.04.0", "9", "rev", "21.00.05"]),
        extension=st.none() | st.sampled_from(["EXE", "COM", "EFI"]),
        otherwise=st.sampled_from(["BIN", "ROM", ""]),
    ),
    max_size=25,
    unique_by=lambda one: one.key,
)
taken = st.sets(st.sampled_from(["OLD.BIN", "FW.BIN", "KIT.JSN", "FIRM1204.BIN", "FIRMWARE.EXE", "X.COM"]))


@given(wants, taken, st.randoms(use_true_random=False))
def test_names_are_legal_distinct_and_the_same_in_any_order(files, there, random):
    names = assign(files, there)
    assert names.keys() == {one.key for one in files}
    assert len(set(names.values())) == len(names)
    assert not set(names.values()) & there
    for name in names.values():
        assert is_legal(name) and is_plain(name)
        assert FAT_SHORT.fullmatch(name) and ISO_LEVEL_1.fullmatch(name)
        assert not DEVICE.fullmatch(name)
        assert name.encode("ascii")[0] != 0xE5
        base, _, extension = name.partition(".")
        assert base not in {"RUN", "AUTOEXEC", "CONFIG", "STARTUP", "COMMAND", "COPY"}
        assert extension != "TMP"
        if extension in {"EXE", "COM", "BAT", "EFI", "NSH"}:
            others = [other for other in {*names.values(), *there} if other.partition(".")[0] == base and other != name]
            assert not [other for other in others if other.partition(".")[2] in {"EXE", "COM", "BAT", "EFI", "NSH"}]
    for one in files:
        if one.extension:
            assert names[one.key].endswith(f".{one.extension}")
    shuffled = list(files)
    random.shuffle(shuffled)
    assert assign(shuffled, there) == names


@given(st.text(max_size=14) | st.from_regex(r"[A-Z0-9~!.]{0,9}\.?[A-Z]{0,4}", fullmatch=True))
def test_legal_is_what_the_fat_specification_says(name):
    assert is_legal(name) == bool(FAT_SHORT.fullmatch(name) and not DEVICE.fullmatch(name))


NOT_LEGAL = "\xe5IRM.BIN CON con.txt AUX.DLL COM1 LPT9.X COM\xb9.A A. .A TOOLONGBASE A.LONG a.bin A+B A.B.C"


@pytest.mark.parametrize("name", [*NOT_LEGAL.split(), "", "A B"])
def test_these_are_not_legal(name):
    assert not is_legal(name)


@pytest.mark.parametrize("name", ["A", "FW_12.BIN", "~!#$%&'-.@^`", "(){}_.0", "COM0", "CONS.TXT", "LPT10"])
def test_these_are_legal(name):
    assert is_legal(name)
    assert not is_device(name)


def test_names_stay_readable():
    files = [
        Wanted("a", "Bittern Firmware v12.04 (final).bin", ("firmware",), "12.04.0"),
        Wanted("b", "pass.rom", ("legacy-boot-rom",), "8.41.0"),
        Wanted("c", "QuayHand.exe", ("writer",), "3.14", "EXE"),
        Wanted("d", "fw.bin", ("eeprom-image",)),
        Wanted("e", "fw.bin", ("uefi-boot-rom",), "9"),
    ]
    assert assign(files) == {
        "a": "FIRM1204.BIN",
        "b": "PASS.ROM",
        "c": "QUAYHAND.EXE",
        "d": "EEPROM.BIN",
        "e": "UEFI9.BIN",
    }


def test_many_files_that_want_one_name_all_get_one():
    files = [Wanted(f"{number:04x}", "x", ("firmware",), "1.2") for number in range(300)]
    assert len(set(assign(files).values())) == 300


@pytest.mark.parametrize(
    ("family", "kit", "code"),
    [
        ("corvane-bittern", "7f3a99", "BITT-7F3"),
        ("brinewell-plover", "0ab", "PLOV-0AB"),
        ("heron-2", "fff0", "HERO-FFF"),
        ("x", "1", "X-100"),
        ("42", "abc", "KIT-ABC"),
        ("maker-ab", "abc", "MAKE-ABC"),
    ],
)
def test_short_codes(family, kit, code):
    assert short_code(family, kit) == code


@given(st.text(max_size=30), st.text(max_size=70))
def test_a_short_code_is_always_a_legal_name(family, kit):
    code = short_code(family, kit)
    assert is_legal(code)
    assert re.fullmatch(r"[A-Z]{1,4}-[A-Z0-9]{3}", code)


@pytest.mark.outside
@pytest.mark.skipif(not (shutil.which("mkfs.vfat") and shutil.which("mcopy")), reason="needs dosfstools and mtools")
def test_mtools_stores_every_name_as_a_short_name_and_nothing_else(tmp_path):
    """Source: GNU mtools and dosfstools, an independent FAT implementation (Debian packages)."""
    wanted = [
        Wanted(f"{n}", had, ("firmware", "writer")[: n % 3], version)
        for n, (had, version) in enumerate(
            (had, version)
            for had in ["fw.bin", "Über.rom", "con.bin", "a b c.bin", "QUAY.EXE", ".x", "12", "autoexec.bat"]
            for version in ["1.2.3", None]
        )
    ]
    names = sorted(assign(wanted).values())
    for name in names:
        (tmp_path / name).write_bytes(name.encode())
    image = tmp_path / "image"
    subprocess.run(["mkfs.vfat", "-C", str(image), "1440"], check=True, capture_output=True)
    subprocess.run(["mcopy", "-i", str(image), *(str(tmp_path / name) for name in names), "::"], check=True)
    root = image.read_bytes()
    data = root[19 * 512 : 33 * 512]  # the root folder of a 1.44 MB floppy: 224 entries of 32 bytes
    entries = [data[at : at + 32] for at in range(0, len(data), 32) if data[at] not in (0, 0xE5)]
    assert all(entry[11] != 0x0F for entry in entries), "a long-name entry was needed"
    found = sorted(
        (entry[:8].rstrip(b" ") + (b"." + entry[8:11].rstrip(b" ") if entry[8:11].strip() else b"")).decode("ascii")
        for entry in entries
        if not entry[11] & 0x08
    )
    assert found == names


def test_too_many_files_of_one_name_are_refused_not_looped_over():
    files = [Wanted(f"{number:05x}", "x", ("firmware",), "1.2") for number in range(names83.MOST_TRIES + 5)]
    with pytest.raises(ValueError, match="too many"):
        assign(files)
