"""Everything that reads bytes nobody vouches for, by name: `run` raises on any but the documented outcome.

Readers come from the readers' table, so a new format is fuzzed without a line here.
"""

from __future__ import annotations

import logging
import random
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import partial

from catalogue import formats
from catalogue.facts import reading as facts_reading
from catalogue.facts.form import NotFacts
from catalogue.facts.writing import text_of
from catalogue.families import pci_names, shown
from catalogue.families.extends import NoBase
from catalogue.families.limits import MAX_SHOWN_CARDS, MAX_SLOT, MAX_VALUE, MAX_VERSION
from catalogue.families.load import load_source
from catalogue.families.patterns import find, patterns_of, placeholder_of, tokens
from catalogue.families.source import Source, source_of
from catalogue.formats import opaque, uefi_compression
from catalogue.formats.reader import Reader
from catalogue.formats.view import BytesView
from catalogue.intake import archives, bounds, containers
from catalogue.intake.containers.container import Container
from catalogue.intake.forward import ForwardView
from catalogue.intake.reading import read_short
from catalogue.media import kits_list, sums
from catalogue.shapes.as_json import as_text
from catalogue.shapes.from_json import NotAKit, kit_from_bytes
from catalogue.shapes.reading import Reading
from catalogue.store import reading_text
from catalogue.store.found import MemberFound
from tests.contracts import battery
from tests.facts.made import FACTS
from tests.formats.build_uefi_stream import pack
from tests.fuzz import hosts, seeds
from tests.fuzz import uefi_compression as uefi_streams
from tests.fuzz.target import Target
from tests.media.making import KIT

PASSED_BYTES = 700
"""Bytes of a chunk of an archive that goes past."""


def _kept(reading: Reading) -> None:
    """A reading is kept by the store as it is, and prints as JSON in plain ASCII."""
    assert reading_text.load(reading_text.dump(reading)) == reading
    assert as_text([reading.title, *(one.value for one in reading.versions)]).isascii()


def _reader(row: Reader, data: bytes) -> None:
    reading = battery.read(row, BytesView(data))
    if reading is not None:
        _kept(reading)


def _table(data: bytes) -> None:
    reading = formats.read(BytesView(data))
    battery.examine(reading, len(data))
    _kept(reading)
    if formats.knows_nothing(data):
        assert reading.format == opaque.READER.name, "the quick look misses what a reader knows"
    short, _ = read_short(data, "fuzz")
    assert short.format == reading.format
    assert not any(one.code == "reader-failed" for one in short.faults)


class _Guarded(logging.Handler):
    """Keeps what intake's guards caught: a person is spared it, a campaign is not."""

    def __init__(self) -> None:
        super().__init__()
        self.caught: list[BaseException] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info and record.exc_info[1] is not None:
            self.caught.append(record.exc_info[1])


@contextmanager
def _unguarded() -> Iterator[None]:
    """Raise what a guard of intake caught meanwhile."""
    handler = _Guarded()
    before = archives.LOG.propagate
    archives.LOG.addHandler(handler)
    archives.LOG.propagate = False
    try:
        yield
    finally:
        archives.LOG.removeHandler(handler)
        archives.LOG.propagate = before
    if handler.caught:
        raise handler.caught[0]


def _opened(data: bytes) -> None:
    """As intake opens an archive that lies in a folder."""
    view = BytesView(data)
    reading = formats.known(view)
    if reading is None or not containers.is_archive(reading):
        return
    road = archives.Road(len(data), lambda: False)
    with _unguarded():
        members, why = archives.open_archive(view, reading, road, "fuzz")
    assert road.held == 0
    _members(members, why, road)


def _passed(container: Container, data: bytes) -> None:
    """As intake reads an archive that is too large to be held, while it goes past."""
    if container.begins is None or not container.begins(data[: containers.HEAD_BYTES]):
        return
    view = ForwardView(data[at : at + PASSED_BYTES] for at in range(0, len(data), PASSED_BYTES))
    road = archives.Road(len(data), lambda: False)
    with _unguarded():
        opened = container.open(view)
        if opened is None:
            return
        members, why = archives._members(opened, road, "fuzz", 1)
    assert view.finish() == len(data)
    _members(members, why, road)
    reading = opened.reading(len(data))
    if reading is not None:
        battery.examine(reading, len(data))


def _members(members: list[MemberFound], why: str, road: archives.Road) -> None:
    assert road.members <= bounds.MAX_MEMBERS + 1
    assert isinstance(why, str)
    for one in members:
        _member(one, 1)


def _member(one: MemberFound, depth: int) -> None:
    assert depth <= bounds.MAX_DEPTH
    assert bool(one.fault) == bool(one.why), one
    if one.piece is None:
        assert one.fault, "a member that was not read says why"
        return
    reading = one.piece.reading
    assert not any(fault.code == "reader-failed" for fault in reading.faults), reading.faults
    battery.examine(reading, one.piece.size)
    for inner in one.piece.members or ():
        _member(inner, depth + 1)


def _base(name: str) -> Source:
    for data in seeds.families():
        if f'id = "{name}"'.encode() in data:
            return source_of("base.toml", data)
    raise NoBase(f"names {name}, which is nowhere")


def _family(data: bytes) -> None:
    loaded = load_source(source_of("fuzz.toml", data), _base)
    lines = data.count(b"\n") + data.count(b"\r") + 1
    for one in loaded.problems:
        assert one.text.strip()
        assert 1 <= one.line <= (lines if one.file == "fuzz.toml" else 1 << 20), one
    assert loaded.family is not None or loaded.problems
    if loaded.family is not None and not loaded.problems:
        for pattern in patterns_of(loaded.family):
            find(data, pattern)


def _shown(data: bytes) -> None:
    cards = shown.parse(data.decode("utf-8", "surrogateescape"))
    assert len(cards) <= MAX_SHOWN_CARDS
    assert len(set(cards)) == len(cards)
    for one in cards:
        ids = (one.vendor, one.device, one.subvendor, one.subdevice)
        assert all(number is None or 0 <= number <= 0xFFFF for number in ids), one
        assert len(one.text) <= shown.MAX_WORDS


_MOST = {"version": MAX_VERSION, "value": MAX_VALUE, "slot": MAX_SLOT, None: 0}


def _pattern(data: bytes) -> None:
    """A pattern in the first line, the piece behind it."""
    line, _, content = data.partition(b"\n")
    pattern = line.decode("utf-8", "surrogateescape")
    try:
        tokens(pattern)
    except ValueError:
        return
    found = find(content, pattern)
    if found is not None:
        assert 0 <= found.offset < found.offset + found.length <= len(content)
        # A byte that is no text stands as an escape of four signs.
        assert len(found.value or "") <= 4 * _MOST[placeholder_of(pattern)]


def _facts(data: bytes) -> None:
    """What is read would be written just so; all else is refused with its line."""
    try:
        held = facts_reading.read(data)
    except NotFacts as wrong:
        assert wrong.line >= 1
    else:
        assert text_of(held).encode() == data


def _kit_json(data: bytes) -> None:
    try:
        kit = kit_from_bytes(data)
    except NotAKit as error:
        assert str(error)
        return
    text = as_text(kit)
    assert text.isascii()
    assert kit_from_bytes(text.encode()) == kit


def _sums(data: bytes) -> None:
    try:
        listed = sums.parse(data)
    except sums.NotSums as error:
        assert str(error)
        return
    assert sums.text(listed.items()) == data, "a byte of the list could change unseen"


def _kits_list(data: bytes) -> None:
    with suppress(kits_list.NotOurs, kits_list.Damaged):
        kits_list.codes(data)


def _stored(data: bytes) -> None:
    """A reading's text from a catalogue that others write too."""
    try:
        reading = reading_text.load(data.decode("utf-8", "surrogateescape"))
    except ValueError as error:
        assert str(error)
        return
    reading_text.dump(reading)


def _pci_names(data: bytes) -> None:
    names = pci_names.NameList("pci.ids", "", data)
    for vendor in (0x1022, 0xF234):
        found = names.vendor(vendor)
        if found is not None:
            assert len(found[0]) <= pci_names.MAX_NAME
            names.device(found[1], 0x0064)


def _unpacked(data: bytes) -> None:
    done = uefi_compression.unpack(data)
    assert done.data is not None or done.why


def _stored_seeds() -> list[bytes]:
    return [reading_text.dump(formats.read(BytesView(one))).encode() for one in seeds.of_all(False)]


def _sums_seeds() -> list[bytes]:
    return [sums.text(((name, "ab" * 32), ("KIT.JSN", "cd" * 32))) for name in ("FIRM.BIN", "a b é.rom")]


def _packed() -> list[bytes]:
    """Streams by our own packer, of what tests/fuzz/uefi_compression.py makes up."""
    chance = random.Random(1)
    return [pack(uefi_streams.made(chance)) for _ in range(12)]


_LISTING = (
    b"01:00.0 RAID bus controller [0104]: Corvane Heron [f234:0064] (rev 03)\n"
    b"\tSubsystem: Corvane Heron 8 ports [f234:1f1c]\n\n"
    b"Slot:\t01:00.0\nClass:\tx [0104]\nVendor:\tA [f234]\nDevice:\tB [0064]\nSVendor:\tC [f234]\nSDevice:\tD [1f1c]\n"
)
_SHOWN = (
    _LISTING,
    b"PCI\\VEN_F234&DEV_0064&SUBSYS_1F1CF234&REV_03&CC_010400\nf234:0064\n0xf234 0x0064 0xf234 0x1f1c\n",
    b'01:00.0 "0104" "f234" "0064" -r03 -p00 "f234" "1f1c"\npci:v0000F234d00000064sv0000F234sd00001F1Cbc01sc04i00\n',
    b"01:00.0 x\n"
    + b"".join(b"%02x: %s\n" % (at, b"34 f2 64 00 06 04 10 00 03 00 04 01 10 00 00 00") for at in (0, 16, 32)),
    b"0000000 f234 0064 0406 0010\n0000010 0000 0000 0000 0000\nVendor F234 Device 0064 Prog Interface 0\n",
    b"PCI_ID=F234:0064\nPCI_SUBSYS_ID=F234:1F1C\n|34f26400060410000300040110000000|\n",
)
_PATTERNS = (
    b"CVFW~{version}\n\x00\x01CVFW 12.04.0\x00",
    b"Adapter {slot} \nAdapter 1:2 x",
    b"{value}\nno",
    b"Serial ~ {value}\nSerial . : = AB12 \t\r\nC\0V\0",
    b"Heron\n" + "Heron Bittern".encode("utf-16-le"),
    b"{version}-rel\n" + b"1.2.3-rel " * 9,
)

OTHERS: tuple[Target, ...] = (
    Target("family file", _family, seeds.families),
    Target("shown cards", _shown, lambda: _SHOWN),
    Target("pattern", _pattern, lambda: _PATTERNS),
    Target("kit object", _kit_json, lambda: [as_text(KIT).encode()]),
    Target("sums of a kit", _sums, _sums_seeds),
    Target("facts file", _facts, lambda: [text_of(FACTS).encode()]),
    Target(
        "list of kits",
        _kits_list,
        lambda: [kits_list.text([kits_list.KitLine("BITT-7F3", "Corvane Bittern", "raid-to-pass-dos", "7f3")])],
    ),
    Target("stored reading", _stored, _stored_seeds),
    Target(
        "names of IDs", _pci_names, lambda: [b"# Version: 2026.08.22\nf234  Corvane\n\t0064  Heron\n\t\tf234 1f1c  x\n"]
    ),
    Target("UEFI compression", _unpacked, _packed),
    *hosts.TARGETS,
)


def every(real_too: bool = False) -> Mapping[str, Target]:
    """Every target by its name: a row of the readers' table and of the containers' each, then the others.

    `real_too`: real files that lie here are among the seeds, so that other machines try other inputs.
    """
    rows = [
        Target(f"reader {row.name}", partial(_reader, row), partial(seeds.of_reader, row.name, real_too))
        for row in formats.READERS
    ]
    for kind, container in containers.CONTAINERS.items():
        name = kind.removeprefix("archive/")
        rows.append(Target(f"opened {name}", _opened, partial(seeds.of_kind, kind, real_too)))
        if container.begins is not None:
            rows.append(Target(f"passed {name}", partial(_passed, container), partial(seeds.of_kind, kind, real_too)))
    rows.append(Target("table", _table, partial(seeds.of_all, real_too)))
    return {one.name: one for one in (*rows, *OTHERS)}
