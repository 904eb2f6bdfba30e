"""Intel HEX and S-records by hand, and by PyPI `bincopy` both ways."""

import hashlib
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue import formats
from catalogue.formats import hex_memory, limits
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.contracts import battery
from tests.formats.build_hex import intel_hex, record, s_record, s_records
from tests.formats.build_rom import Made as Rom
from tests.formats.build_rom import image

ROM = image(Rom(blocks=1))


def read(data: bytes | str) -> Reading:
    raw = data.encode() if isinstance(data, str) else data
    reading = formats.read(BytesView(raw))
    battery.examine(reading, len(raw))
    return reading


def test_intel_hex_by_hand():
    """The record of 16 bytes is an example that many descriptions of the format share (from memory)."""
    text = ":10010000214601360121470136007EFE09D2190140\n:0400000300003800C1\n:00000001FF\n"
    reading = read(text)
    assert (reading.format, reading.kind) == ("intel-hex", "intel-hex")
    assert reading.faults == reading.notes == ()
    fields = {one.name: one.value for one in reading.fields}
    assert fields == {
        "looks": "hex-text",
        "records": 3,
        "bytes_loaded": 16,
        "end_record": True,
        "start_address": 0x3800,
    }
    (part,) = reading.parts
    data = bytes.fromhex("214601360121470136007EFE09D21901")
    assert part.inside == "unpacked"
    assert {one.name: one.value for one in part.fields} == {
        "sha256": hashlib.sha256(data).hexdigest(),
        "size": 16,
        "first_address": 0x100,
        "gaps": (),
        "gap_bytes": 0,
    }


def test_s_records_by_hand():
    """The first and the last record stand in Motorola's description (from memory)."""
    lines = (
        "S00F000068656C6C6F202020202000003C",
        "S11F00007C0802A6900100049421FFF07C6C1B787C8C23783C6000003863000026",
        "S5030001FB",
        "S9030000FC",
    )
    text = "\n".join(lines)
    reading = read(text)
    assert (reading.format, reading.kind) == ("s-record", "s-record")
    assert reading.faults == reading.notes == ()
    assert reading.value("header") == "hello     "[:5]
    assert reading.value("start_address") == 0
    assert reading.parts[0].value("size") == 28


@pytest.mark.parametrize("data", [intel_hex({0x8000: ROM}), s_records({0x8000: ROM})], ids=["intel", "motorola"])
def test_the_piece_behind(data: bytes):
    """The decoded bytes have their own hash and reading; the text names the ROM's IDs too."""
    reading = read(data)
    (part,) = reading.parts
    assert part.value("sha256") == hashlib.sha256(ROM).hexdigest()
    (rom,) = part.parts
    assert (rom.kind, rom.inside) == ("option-rom/legacy-x86", "unpacked")
    assert reading.ids == rom.ids != ()
    assert hex_memory.decoded(BytesView(data), reading) == ROM
    assert reading.value("looks") == "hex-text"


def test_versions_in_the_decoded_bytes():
    reading = read(intel_hex({0: b"\x80CVFW 12.04.0\0\x81"}))
    assert [(one.value, one.source, one.offset) for one in reading.versions] == [
        ("12.04.0", 'dotted number behind "CVFW" in the decoded bytes', None)
    ]
    assert reading.parts[0].versions[0].offset == 6


def test_gaps_are_told_and_filled():
    reading = read(intel_hex({0x10: b"ab", 0x20: b"cd", 0x18: b"\x80"}))
    (part,) = reading.parts
    assert part.value("gaps") == ("12h-17h", "19h-1Fh")
    assert part.value("gap_bytes") == 13
    data = b"ab" + b"\xff" * 6 + b"\x80" + b"\xff" * 7 + b"cd"
    assert part.value("sha256") == hashlib.sha256(data).hexdigest()
    assert [one.code for one in reading.notes] == ["hex-gaps"]


def test_far_apart():
    reading = read(intel_hex({0: b"near", 0xFFFF0000: b"far"}))
    assert [part.value("first_address") for part in reading.parts] == [0, 0xFFFF0000]


def test_segments_wrap():
    """A segment ends after 64 KiB: what goes on is loaded at its beginning."""
    text = "\n".join((record(2, 0, b"\x10\x00"), record(0, 0xFFFE, b"abcd"), record(1, 0)))
    assert [part.value("size") for part in read(text).parts] == [0x10000]
    text = "\n".join((record(4, 0, b"\x00\x01"), record(0, 0xFFFE, b"abcd"), record(1, 0)))
    assert read(text).parts[0].value("first_address") == 0x1FFFE


@pytest.mark.parametrize(
    ("text", "faults", "notes"),
    [
        (":0100000055AA\n", ["No record says that this is the end."], []),
        (":0100000055AA\n:0100010055AB\n:00000001FF\n", ["Line 2: its sum is wrong."], []),
        (":0100000055AA\n:0200010055A8\n:00000001FF\n", ["Line 2: its length is not what it says."], []),
        (":0100000055AA\n:010001\n:00000001FF\n", ["Line 2: its length is not what it says."], []),
        (":0100000055AA\n:01000Z0055A8\n:00000001FF\n", ["Line 2: it is no record."], []),
        (":0100000055AA\n:00000006FA\n:00000001FF\n", ["Line 2: it is of type 06, which is none."], []),
        (":0100000055AA\n:0100000400FB\n:00000001FF\n", ["Line 2: its type has another length."], []),
        (":0100000055AA\n:0100000055AA\n:00000001FF\n", [], ["Bytes loaded twice: 1; the later ones count."]),
        (":0100000055AA\n; note\n:00000001FF\n", [], ["Lines that are no records: 1."]),
        (":0100000055AA\n:00000001FF\nmore\n", [], ["Lines stand behind the end record; they were not read."]),
        ("S104000055A6\n", ["No record says that this is the end."], []),
        ("S104000055A6\nS104000155A6\nS9030000FC\n", ["Line 2: its sum is wrong."], []),
        ("S104000055A6\nS105000155A6\nS9030000FC\n", ["Line 2: its length is not what it says."], []),
        ("S104000055A6\nS404000155A5\nS9030000FC\n", ["Line 2: it is of a type that is none."], []),
        ("S104000055A6\nSX\nS9030000FC\n", ["Line 2: it is of a type that is none."], []),
        ("S104000055A6\nS1Z\nS9030000FC\n", ["Line 2: it is no record."], []),
        ("S104000055A6\nS\nS9030000FC\n", ["Line 2: it is of a type that is none."], []),
        ("S104000055A6\nS5030002FA\nS9030000FC\n", ["Line 2: it counts 2 records before it; there are 1."], []),
        (
            "S104000055A6\nS5030001FB\n",
            [],
            ["No record says that this is the end; the records before it are as many as the last one counts."],
        ),
        ("S104000055A6\nS9030000FC\nmore", [], ["Lines stand behind the end record; they were not read."]),
        ("S104000055A6\nhello\nS9030000FC\n", [], ["Lines that are no records: 1."]),
    ],
)
def test_faults_and_notes(text: str, faults: list[str], notes: list[str]):
    reading = read(text)
    assert reading.value("looks") == "hex-text"
    assert [one.text for one in reading.faults] == faults
    assert [one.text for one in reading.notes] == notes
    assert {one.code for one in reading.faults} <= {"hex-damaged"}


@pytest.mark.parametrize(
    "text",
    [
        ":0100000055AB\n",  # one record, and its sum is wrong
        ":-) a smile\n",
        ":0100000055AA\nbut then\nit is\nsomething\nelse\n",
        "S1 and S2 are switches\n",
        "S104000055A6\nbut then\nit is\nsomething\nelse\n",
    ],
)
def test_what_is_none(text: str):
    assert read(text).kind == "text"


def test_a_line_end_and_a_control_sign_more_do_no_harm():
    assert not read(intel_hex({0: b"ab"}, end="\r\n") + b"\r\n\x1a").faults


def test_too_many_runs():
    """Hostile: a run of bytes for each record."""
    chunks = {at * 4: b"\x80" for at in range(limits.MAX_HEX_RUNS + 5)}
    started = time.perf_counter()
    reading = read(intel_hex(chunks))
    assert time.perf_counter() - started < 2
    assert any("more than" in one.text for one in reading.notes)


def test_far_apart_a_thousand_times():
    """Hostile: every record far from the next; no more than 64 stretches become parts."""
    reading = read(s_records({at << 24: b"\x80" * 8 for at in range(200)}, 4, count=False))
    assert len(reading.parts) == 64


def test_speed():
    data = intel_hex({0: bytes(range(256)) * 2_048})
    started = time.process_time()
    read(data)
    assert time.process_time() - started < len(data) / (1 << 20)


@pytest.mark.outside
@given(st.dictionaries(st.integers(0, 0xFFFF_0000), st.binary(min_size=1, max_size=70), min_size=1, max_size=4))
def test_what_bincopy_writes_is_read(chunks: dict[int, bytes]):
    bincopy = pytest.importorskip("bincopy")
    file = bincopy.BinFile()
    for start, data in chunks.items():
        file.add_binary(data, start, overwrite=True)
    for text in (file.as_ihex(), file.as_srec(address_length_bits=32)):
        reading = read(text)
        assert reading.faults == ()  # its S-records end with a count, which is a note
        segments = [(one.address, bytes(one.data)) for one in file.segments]
        assert reading.value("bytes_loaded") == sum(len(data) for _, data in segments)
        if len(reading.parts) == 1:
            (part,) = reading.parts
            assert part.value("first_address") == file.minimum_address
            assert part.value("sha256") == hashlib.sha256(file.as_binary()).hexdigest()
        else:
            shown = [(one.value("first_address"), one.value("sha256")) for one in reading.parts]
            assert shown == [(start, hashlib.sha256(data).hexdigest()) for start, data in segments]


@pytest.mark.outside
@pytest.mark.parametrize("segments", [False, True])
def test_bincopy_reads_what_we_take_as_sound(segments: bool):
    """Ours is not too lenient: bincopy takes the same texts, and finds the same bytes."""
    bincopy = pytest.importorskip("bincopy")
    for text in (intel_hex({0x8FF0: ROM, 0x1_2340: ROM}, segments=segments), s_records({0x8000: ROM})):
        file = bincopy.BinFile()
        file.add(text.decode())
        assert read(text).parts[0].value("sha256") == hashlib.sha256(file.as_binary()).hexdigest()


def test_a_count_of_24_bits():
    lines = [s_record(1, 0, b"a"), s_record(6, 1, b"", 3), s_record(9, 0)]
    assert read("\n".join(lines)).faults == ()


def test_kits_know_such_a_text():
    """A role refuses the text by `looks`, whatever it decodes to: the card wants the bytes."""
    from catalogue.kits.criteria import WRONG_LOOKS

    assert read(intel_hex({0: ROM})).value("looks") in WRONG_LOOKS
