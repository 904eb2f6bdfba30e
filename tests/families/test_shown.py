"""What a card shows of itself: real lspci's output of cards we invent, other tools' forms, and pasted odds and ends."""
# ruff: noqa: E501  (a table of forms is read line by line)

from __future__ import annotations

import shutil
import struct
import subprocess
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from catalogue.families.limits import MAX_SHOWN_CARDS, MAX_SHOWN_TEXT
from catalogue.families.shown import ShownCard, parse

Ids = tuple[int, int, int | None, int | None]
CARD = (0xF234, 0x0C80, 0xF567, 0x1F1C)


def ids(text: str) -> list[Ids]:
    return [(one.vendor, one.device, one.subvendor, one.subdevice) for one in parse(text)]


def space(vendor: int, device: int, subvendor: int, subdevice: int, code: int = 0x010700, header: int = 0) -> bytes:
    """256 bytes of configuration space, by PCI Local Bus Specification 3.0, figure 6-1."""
    head = struct.pack("<HHHHB3sBBBB", vendor, device, 0x0406, 0x0010, 3, code.to_bytes(3, "little"), 0x10, 0, header, 0)
    bars = struct.pack("<6I", 0xE001, 0xF7D4000C, 0, 0xF7D0000C, 0, 0)
    tail = struct.pack("<IHHIIIBBBB", 0, subvendor, subdevice, 0xF7C00000, 0x50, 0, 11, 1, 0, 0)
    return (head + bars + tail).ljust(256, b"\0")


def dumped(address: str, data: bytes) -> str:
    """As `lspci -x` prints it, and as `lspci -F` reads it (lspci(8))."""
    rows = [f"{at:02x}: {data[at : at + 16].hex(' ')}" for at in range(0, len(data), 16)]
    return f"{address} Unnamed\n" + "\n".join(rows) + "\n\n"


nonzero = st.integers(1, 0xFFFE)
cards = st.lists(
    st.tuples(nonzero, nonzero, nonzero, nonzero, st.integers(0, 0xFFFFFF)), min_size=1, max_size=4, unique_by=lambda x: x[:2]
)
FORMS = {
    "-n": "ids", "-nn": "ids", "-D -nn": "ids", "-nnv": "subsystem", "-nv": "subsystem", "-nnvv": "subsystem",
    "-nnk": "subsystem", "-n -x": "class", "-nn -x": "class", "-nn -xxx": "class", "-x": "class", "-vx": "class",
    "-nnvx": "class", "-n -m": "subsystem", "-nn -mm": "subsystem", "-n -vm": "subsystem", "-nn -vmm": "subsystem",
    "-nn -vmmk": "subsystem", "-nn -D -mm": "subsystem", "-nn -t -v": "ids",
}


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("lspci") is None, reason="lspci of pciutils is not here")
@pytest.mark.parametrize("form", FORMS)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=12, deadline=None)
@given(made=cards)
def test_real_lspci_is_read_back(tmp_path: Path, form: str, made: list[tuple[int, int, int, int, int]]) -> None:
    """lspci (pciutils) renders invented cards from a dump file; we must read the same IDs from every form."""
    dump = tmp_path / "dump"
    dump.write_text("".join(dumped(f"{n + 1:02x}:00.0", space(*one)) for n, one in enumerate(made)))
    run = subprocess.run(["lspci", "-F", str(dump), *form.split()], capture_output=True, text=True, check=True)
    found = parse(run.stdout)
    assert [(one.vendor, one.device) for one in found] == [one[:2] for one in made], run.stdout
    if FORMS[form] != "ids":
        assert [(one.subvendor, one.subdevice) for one in found] == [one[2:4] for one in made], run.stdout
    if FORMS[form] == "class":
        assert [one.class_code for one in found] == [one[4] for one in made], run.stdout


DATA = space(*CARD)
PAIRS = [DATA[at : at + 2] for at in range(0, 64, 2)]
SWAPPED = [one[::-1].hex() for one in PAIRS]


def rows(cells: list[str], a_row: int, offset: str = "", between: str = " ", tail: str = "") -> str:
    out = []
    for number in range(0, len(cells), a_row):
        begin = offset.format(number * 16 // a_row) if offset else ""
        out.append(begin + between.join(cells[number : number + a_row]) + tail)
    return "\n".join(out)


BYTES = [f"{one:02x}" for one in DATA[:64]]
UPPER = [one.upper() for one in BYTES]
DUMPS = {
    "16 a row": rows(BYTES, 16, "{:02x}: "),
    "four digits": rows(BYTES, 16, "{:04x}: "),
    "eight digits, upper": rows(UPPER, 16, "{:08X}: "),
    "no colon": rows(BYTES, 16, "{:08x}  "),
    "short offsets, no colon": rows(BYTES, 16, "{:02x} "),
    "a bar": rows(UPPER, 16, "{:02X} | "),
    "an h": rows(UPPER, 16, "{:02X}h: "),
    "0x": rows([f"0x{one}" for one in BYTES], 16, "0x{:02x}: "),
    "eight a row": "\n".join(f"{at:02x}: {DATA[at : at + 8].hex(' ')}" for at in range(0, 64, 8)),
    "commas": rows([f"0x{one}" for one in BYTES], 16, between=", ", tail=","),
    "xxd": rows([one.hex() for one in PAIRS], 8, "{:08x}: ", tail="  4.....ab 12 .."),
    "hexdump": rows(SWAPPED, 8, "{:07x} "),
    "od": "\n".join(f"{at:07o} {' '.join(SWAPPED[at // 2 : at // 2 + 8])}" for at in range(0, 64, 16)),
    "od -t x1": "\n".join(f"{at:07o} {DATA[at : at + 16].hex(' ')}" for at in range(0, 64, 16)),
    "hexdump -C": "\n".join(
        f"{at:08x}  {DATA[at : at + 8].hex(' ')}  {DATA[at + 8 : at + 16].hex(' ')}  |4... 12 ab|" for at in range(0, 64, 16)
    ),
    "a shell's": "\n".join(
        f"  {at:08X}: {DATA[at : at + 8].hex(' ').upper()}-{DATA[at + 8 : at + 16].hex(' ').upper()}  *4...12 ab.*"
        for at in range(0, 64, 16)
    ),
    "double words": rows([DATA[at : at + 4][::-1].hex() for at in range(0, 64, 4)], 4, "{:02x}: "),
    "plain bytes": rows(BYTES, 16),
    "plain bytes, one row": " ".join(BYTES),
    "plain words": rows(SWAPPED, 8),
    "no blanks": DATA[:64].hex(),
    "no blanks, rows": "\n".join(DATA[at : at + 16].hex() for at in range(0, 64, 16)),
    "0x once": "0x" + DATA[:64].hex(),
    "a heading": "Card one\n     00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F\n" + rows(UPPER, 16, "{:02X} "),
}


@pytest.mark.parametrize("spelling", DUMPS)
def test_spellings_of_a_dump(spelling: str) -> None:
    assert ids(DUMPS[spelling]) == [CARD]
    assert parse(DUMPS[spelling])[0].class_code == 0x010700


@settings(deadline=None)
@given(st.sampled_from(sorted(DUMPS)), nonzero, nonzero, nonzero, nonzero, st.integers(0, 0xFFFFFF))
def test_any_ids_in_bytes_with_a_colon(_: str, vendor: int, device: int, sub: int, subsystem: int, code: int) -> None:
    data = space(vendor, device, sub, subsystem, code)
    assert parse(rows([f"{one:02x}" for one in data[:64]], 16, "{:02x}: ")) == (
        ShownCard(vendor, device, sub, subsystem, code, "configuration space dump", data[8]),
    )


@pytest.mark.parametrize(
    ("data", "wanted"),
    [
        (space(*CARD)[:16], (0xF234, 0x0C80, None, None)),
        (space(0xF234, 0x0C80, 0, 0), (0xF234, 0x0C80, None, None)),
        (space(0xF234, 0x0C80, 0xFFFF, 0xFFFF), (0xF234, 0x0C80, None, None)),
        (space(*CARD, header=0x81), (0xF234, 0x0C80, None, None)),
        (space(*CARD, header=0x80), CARD),
        (space(0xF200, 0x0C80, 0xF567, 0x1F1C), (0xF200, 0x0C80, 0xF567, 0x1F1C)),
    ],
)
def test_what_a_header_says(data: bytes, wanted: Ids) -> None:
    assert ids(rows([f"{one:02x}" for one in data], 16, "{:02x}: ")) == [wanted]
    assert ids(rows([f"{one:02x}" for one in data], 16)) == [wanted]


@pytest.mark.parametrize(
    "data",
    [b"\0" * 64, b"\xff" * 64, space(*CARD, header=3), DATA[:4] + b"\xff" * 60, DATA[:6] + b"\x07" + DATA[7:64]],
)
def test_what_is_no_configuration_space(data: bytes) -> None:
    assert ids(rows([f"{one:02x}" for one in data], 16, "{:02x}: ")) == []
    assert ids(data.hex()) == []


def test_a_dump_with_a_gap_is_read_up_to_it() -> None:
    text = rows(BYTES, 16, "{:02x}: ").split("\n")
    assert ids("\n".join([text[0], *text[2:]])) == [(0xF234, 0x0C80, None, None)]
    assert ids(rows(BYTES, 16, "{:02x}: ").replace("10: ", "1000: ")) == [(0xF234, 0x0C80, None, None)]


def test_several_dumps_one_after_the_other() -> None:
    other = rows([f"{one:02x}" for one in space(0xF567, 0x0001, 0xF567, 2)], 16, "{:02x}: ")
    assert ids(rows(BYTES, 16, "{:02x}: ") + "\n" + other) == [CARD, (0xF567, 1, 0xF567, 2)]


PLAIN = (0xF234, 0x0C80, None, None)
TEXTS = [
    ("f234:0c80", [PLAIN]),
    ("  F234:0C80  ", [PLAIN]),
    ("F234:0C80/F567:1F1C", [CARD]),
    ("F234:0C80 subsystem F567:1F1C", [CARD]),
    ("F234:0C80 (subsys: F567:1F1C)", [CARD]),
    ("0xF234 0x0C80", [PLAIN]),
    ("0xf234, 0x0c80", [PLAIN]),
    ("0xf234:0x0c80 0xf567:0x1f1c", [CARD]),
    ("0xf234 0x0c80 0xf567 0x1f1c", [CARD]),
    ("f234 0c80", [PLAIN]),
    ("F234:0C80, F234:0C81", [PLAIN, (0xF234, 0x0C81, None, None)]),
    ("F234:0C80\nF234:0C80\n", [PLAIN]),
    ("F234:0C80\nF234:0C80/F567:1F1C\nF234:0C80", [CARD]),
    ("F234:0C80/F567:1F1C\nF234:0C80/F567:1F1D", [CARD, (0xF234, 0x0C80, 0xF567, 0x1F1D)]),
    ("0000:0c80 ffff:0c80", []),
    ("at 12:34 or 2026:03 or 12345:6789 or 1234:56789 or 1234:5678:9abc or x1234:5678", []),
    ("0000:03:00.0 0107: f234:0c80 (rev 03)", [PLAIN]),
    ("03:00.0 SAS [0107]: Corvane Heron [f234:0c80] (rev 03) Subsystem: Quay [f567:1f1c]", [CARD]),
    ("03:00.0 SAS [0107]: Corvane [9341] Heron [f234:0c80]\n\tSubsystem: Quay [9341] [f567:1f1c]\n\tx [1111:2222]", [CARD]),
    ("03:00.0 SAS controller: Corvane Heron (rev 03)\n\tSubsystem: Quay [f567:1f1c]", []),
    ("03:00.0 SAS controller: Corvane Heron (rev 03)\n" + DUMPS["16 a row"], [CARD]),
    ("03:00.0 0107: f234:0c81\n" + DUMPS["16 a row"], [(0xF234, 0x0C81, None, None), CARD]),
    ("03:00.0 0107: f234:0c80\n\tSubsystem: f567:1f1c\n" + rows(BYTES[:16], 16, "{:02x}: "), [CARD]),
    ("03:00.0 [0107]: f234:0c80\n\tSubsystem: f567:1f1c\n\tSubsystem: f567:0001\n", [CARD]),
    ("\tSubsystem: f567:1f1c", []),
    ('03:00.0 "SAS [0107]" "Corvane [f234]"', []),
    ("PCI\\VEN_F234&DEV_0C80&SUBSYS_1F1CF567&REV_03", [CARD]),
    ("pci\\ven_f234&dev_0c80&subsys_1f1cf567&rev_03\\4&1a2b&0&0008", [CARD]),
    ("PCI\\VEN_F234&DEV_0C80&SUBSYS_1F1CF567\r\nPCI\\VEN_F234&DEV_0C80&REV_03\r\nPCI\\VEN_F234&DEV_0C80", [CARD]),
    ("VEN_F234&DEV_0C80", [PLAIN]),
    ("HDAUDIO\\FUNC_01&VEN_F234&DEV_0C80&SUBSYS_F5671F1C", []),
    ("ACPI\\VEN_F234&DEV_0C80", []),
    ("pci:v0000F234d00000C80sv0000F567sd00001F1Cbc01sc07i00", [CARD]),
    ("pci:v0000F234d00000C80sv00000000sd00000000bc01sc07i00", [PLAIN]),
    ("DRIVER=x\nPCI_CLASS=10700\nPCI_ID=F234:0C80\nPCI_SUBSYS_ID=F567:1F1C\nPCI_ID=F234:0C81\n", [CARD, (0xF234, 0x0C81, None, None)]),
    ("PCI_ID=7", []),
    ("  Vendor ID: 0xf234\n  Device ID: 0x0c80\n  Subsystem Vendor ID: 0xf567\n  Subsystem ID: 0x1f1c\n", [CARD]),
    ("Vendor: Corvane [f234]\nDevice: Heron [0c80]\nSVendor: Quay\n", [PLAIN]),
    ("Vendor: f234\nVendor: f234\nDevice: 0c80\n", [PLAIN]),
    ("Device: f234:0c80", [PLAIN]),
    ("Device: Corvane Heron", []),
    ("   00   02   00    00 ==> Mass Storage\n             Vendor F234 Device 0C80 Prog Interface 0", [PLAIN]),
    ("deadbeef deadbeef", []),
    ("f234 0c80 f567 1f1c", []),
    ("", []),
    ("no card here, 42 of them", []),
]


@pytest.mark.parametrize(("text", "wanted"), TEXTS, ids=[str(n) for n in range(len(TEXTS))])
def test_what_people_paste(text: str, wanted: list[Ids]) -> None:
    assert ids(text) == wanted


def test_class_codes_where_all_of_them_shows() -> None:
    assert parse("03:00.0 SAS [0107]: Corvane [f234:0c80] (rev 03) (prog-if 02 [x])")[0].class_code == 0x010702
    assert parse("03:00.0 0107: f234:0c80 (rev 03) (prog-if 02)")[0].class_code == 0x010702
    assert parse("03:00.0 0107: f234:0c80 (rev 03)")[0].class_code is None
    assert parse("PCI\\VEN_F234&DEV_0C80&CC_010700")[0].class_code == 0x010700
    twice = parse("PCI\\VEN_F234&DEV_0C80&CC_010700\nPCI\\VEN_F234&DEV_0C80&CC_010701")
    assert [one.class_code for one in twice] == [0x010700]
    both = parse("PCI\\VEN_F234&DEV_0C80\nPCI\\VEN_F234&DEV_0C80&CC_010700")
    assert [one.class_code for one in both] == [0x010700]
    assert parse("pci:v0000F234d00000C80sv00000000sd00000000bc01sc07i02")[0].class_code == 0x010702


def test_what_was_read_is_kept_short() -> None:
    assert parse("x " * 300 + "f234:0c80")[0].text.startswith("x x x")
    assert len(parse("x " * 300 + "f234:0c80")[0].text) == 200


@settings(deadline=None)
@given(st.text(max_size=300))
def test_no_text_is_an_exception(text: str) -> None:
    parse(text)


@settings(deadline=None)
@given(st.lists(st.sampled_from(["f234:0c80 ", "00: ", "34 f2 ", "\n", "03:00.0 ", "\tSubsystem: ", "0x", "|", "[", "]", '"',
                                 "VEN_", "&DEV_", "Vendor: ", "f234", "0000000 ", "-", ",", ":", "  ", "f2340c80 "]), max_size=40))
def test_no_mixture_is_an_exception(parts: list[str]) -> None:
    for one in parse("".join(parts)):
        assert 0 < one.vendor < 0xFFFF


def test_a_long_listing_is_read_so_far() -> None:
    card = "f234:0064"
    lines = "\n" * (MAX_SHOWN_TEXT - len(card))
    assert len(parse(lines + card)) == 1
    assert parse(lines + "\n" * len(card) + card) == ()


def test_bounds() -> None:
    many = "\n".join(f"{one:04x}:0001" for one in range(1, MAX_SHOWN_CARDS + 500))
    assert len(parse(many)) == MAX_SHOWN_CARDS
    on_one_line = " ".join(f"{one:04x}:0001" for one in range(1, 5000))
    assert len(parse(on_one_line)) == 200
    for text in ("00: " * 300_000, "f" * 1_200_000, "34 f2 80 0c " * 100_000, "00: 34 f2 80 0c\n" * 70_000, "a-" * 500_000):
        began = time.process_time()
        parse(text)
        assert time.process_time() - began < 10


@pytest.mark.parametrize(
    ("text", "revision"),
    [
        ("03:00.0 0107: f234:0c80 (rev 05)", 5),
        ("03:00.0 0107: f234:0c80 (rev a1) (prog-if 00)", 0xA1),
        ("03:00.0 0107: f234:0c80", None),
        ('03:00.0 "0107" "f234" "0c80" -r0b "f234" "0001"', 0x0B),
        ("PCI\\VEN_F234&DEV_0C80&SUBSYS_0001F234&REV_05", 5),
        ("PCI\\VEN_F234&DEV_0C80", None),
        ("f234:0c80", None),
    ],
)
def test_the_pci_revision(text: str, revision: int | None) -> None:
    assert [one.revision for one in parse(text)] == [revision]
