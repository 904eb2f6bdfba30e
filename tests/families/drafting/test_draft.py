"""Drafts from values: whatever is given, the text is TOML of the schema's keys, stays unsettled, shows sources."""

from __future__ import annotations

import hashlib
import time
import tomllib
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.families import drafting
from catalogue.families.drafting import Piece, RomImage, Text
from catalogue.families.drafting.about_pieces import MOST_DIGESTS
from catalogue.families.limits import MAX_FILE_BYTES
from catalogue.families.load import load_source
from catalogue.families.source import source_of
from catalogue.formats.eeprom_sums import SUMS
from catalogue.shapes.draft import Draft
from catalogue.shapes.reading import VersionClaim

NAMES = st.text(st.characters(codec=None), min_size=1, max_size=20) | st.sampled_from(
    ['a"b.exe', "x\n[y]\n.rom", "\udcff.bin", "{writer}.exe", "..", "q" * 300]
)
KINDS = ("opaque", "dos-program", "efi-application", "linux-program", "windows-program", "text", "option-rom/efi",
         "option-rom/legacy-x86", "option-rom", "capsule")  # fmt: skip
LINES = st.lists(
    st.text(st.characters(codec=None), max_size=40)
    | st.sampled_from([
        "Berth .... 1", "  Quay address ... 5F23401000001A40", "  Hull number : 00CB0023117", "F234:0C80",
        "{x} = \"1\"",
        "A:\\>tool {slot} > \"x.txt", "tool keep 1 OLD.BIN", "Slot  Address  Serial", "1  5F23401000001A40  CB0023117",
        "Label\x07 = \x1b[31m", "dated 2026-02-30", "dated 2026-02-28",
    ]),
    max_size=12,
)  # fmt: skip
DATA = {
    "firmware": b'CVFW "1.2.3\0' + bytes(20_000),
    "quotes": b'say \\"x" 1.2.3',
    "blank": b"\xff" * 320,
    "dump": bytes.fromhex("5F23401000001A40") + b"CB0023117" + bytes(47),
    "braces": b"CVFW {1.2.3} 4.5.6",
}
KEYS = {"schema", "id", "as_of", "order", "asks", "card", "mode", "listing", "identity", "role", "layout", "release",
        "route", "drafted"}  # fmt: skip
IDS = st.integers(0, 0xFFFF)
RECIPE = st.tuples(
    st.sampled_from(KINDS), st.sampled_from(sorted(DATA)) | st.binary(max_size=40), NAMES, NAMES,
    st.sampled_from(["", "a.zip", '"\n[x]']) | NAMES, IDS, IDS,
    st.none() | st.integers(0, 0xFFFFFF), st.integers(0, 40),
)  # fmt: skip
Recipe = tuple[str, str | bytes, str, str, str, int, int, int | None, int]


def piece(number: int, recipe: Recipe) -> Piece:
    kind, content, folder, name, bundle, vendor, device, code, at = recipe
    data = DATA[content] if isinstance(content, str) else content
    images = (RomImage(kind, vendor, device, code, 4, 13),) if kind.startswith("option-rom/") else ()
    claims = (VersionClaim("1.2.3", "text", at),)
    return Piece(f"{number:064x}", name, (f"{folder}/{name}",), (bundle,), kind, data, images, claims)


def made(held: tuple[Piece, ...], *texts: Text) -> Draft:
    return drafting.draft(drafting.Given("folder", held, texts, date(2026, 3, 2), SUMS))


def check(draft: Draft) -> None:
    """What holds for every draft."""
    told = tomllib.loads(draft.text)
    assert told["asks"] == [one.key for one in draft.asks]
    assert set(told) <= KEYS
    loaded = load_source(source_of("draft.toml", draft.text.encode()), pytest.fail)
    assert loaded.family is not None
    assert loaded.problems
    texts = [one.text for one in loaded.problems]
    assert sum("still open" in one for one in texts) == len(draft.asks)
    assert not [one for one in texts if "no key" in one or "unknown" in one], texts
    rows = draft.text.splitlines()
    for one in draft.inferred:
        assert rows[one.line - 1].strip() == f"{one.text}  # from {one.source}"
    assert len(draft.text.encode()) < MAX_FILE_BYTES


@settings(max_examples=60, deadline=None)
@given(st.lists(RECIPE, max_size=4), st.lists(st.tuples(NAMES, LINES, st.booleans()), max_size=2))
def test_any_draft_parses_and_stays_unsettled(
    recipes: list[Recipe], texts: list[tuple[str, list[str], bool]]
) -> None:
    held = tuple(piece(number, one) for number, one in enumerate(recipes))
    check(made(held, *(Text(name, tuple(lines), saved) for name, lines, saved in texts)))


def test_of_nothing_everything_is_asked_and_nothing_said() -> None:
    draft = made(())
    check(draft)
    assert draft.pieces == 0
    assert {"title", "modes", "identity", "route", "withdrawn", "flash", "ran"} <= {one.key for one in draft.asks}
    assert "role" not in tomllib.loads(draft.text)


def test_each_question_says_what_why_and_how() -> None:
    for one in made(()).asks:
        assert one.key
        assert one.about
        assert one.why
        assert one.how


def dump(order: str, address: int = 0x5F23_4010_0000_1A40, *, serial: bytes = b"CB0023117", turn: int = 0) -> bytes:
    data = bytearray((one * 7 + 3) % 251 for one in range(128))
    data[0x10:0x18] = address.to_bytes(8, order)  # type: ignore[arg-type]
    data[0x20:0x24] = bytes.fromhex("34F2800C")
    data[0x30:0x3C] = serial.ljust(12, b"\0")
    data[0x50] = turn
    data[-1] = 0
    data[-1] = -sum(data) & 0xFF
    return bytes(data)


def opaque(name: str, data: bytes) -> Piece:
    return Piece(hashlib.sha256(data).hexdigest(), name, (name,), ("",), "opaque", data)


LISTING = Text("CARD.TXT", ("Berth .... 3", "  Shows as .... F234:0C80", "  Quay address .... 5F23401000001A40",
                            "  Hull number .... 00CB0023117"), saved=True)  # fmt: skip


@pytest.mark.parametrize(("order", "form"), [("big", "u64be"), ("little", "u64le")])
def test_the_address_is_found_in_both_orders_of_bytes(order: str, form: str) -> None:
    told = tomllib.loads(made((opaque("A.BIN", dump(order)),), LISTING).text)
    (layout,) = told["layout"].values()
    means = {one["is"]: one for one in layout["field"]}
    assert means["identity.sas"] == {"at": 0x10, "as": form, "is": "identity.sas"}
    assert means["mode.vendor"]["at"] == 0x20
    assert means["identity.serial"]["at"] == 0x30
    assert told["identity"]["serial"]["typed"] == ["strip-zeros"]
    assert told["listing"] == {"block": "Berth ~ {slot}"}


def test_a_sum_is_kept_only_where_it_holds_for_two_differing_dumps() -> None:
    one, two = opaque("A.BIN", dump("big")), opaque("B.BIN", dump("big", turn=9))
    broken = opaque("C.BIN", dump("big", turn=7)[:-1] + b"\x01")
    for held, kept in [((one,), False), ((one, two), True), ((one, broken), False), ((one, two, broken), False)]:
        draft = made(held, LISTING)
        (layout,) = tomllib.loads(draft.text)["layout"].values()
        assert ("sum" in layout) is kept, held
        assert ("sum" in {ask.key for ask in draft.asks}) is not kept
    assert layout["size"] == 128


def test_a_listing_of_columns() -> None:
    text = Text("T.TXT", ("Slot   Address            Code", "-----  ----------------   ----",
                          "1      5F23401000001A40   CB0023117"), saved=True)  # fmt: skip
    told = tomllib.loads(made((opaque("A.BIN", dump("big")),), text).text)
    assert told["listing"] == {"columns": True}
    assert told["identity"]["sas"]["column"] == "Address"
    assert told["identity"]["serial"]["column"] == "Code"


def test_a_sentence_that_begins_with_the_utility_is_no_command_line() -> None:
    tool = Piece("1" * 64, "TOOL.EXE", ("TOOL.EXE",), ("",), "dos-program", b"MZ")
    notes = Text("N.TXT", ("TOOL.EXE is the utility for DOS.", "Tool needs its companion", "tool look > CARD.TXT",
                           "C:\\X>tool scour 3"))  # fmt: skip
    told = tomllib.loads(made((tool,), LISTING, notes).text)
    (route,) = told["route"]
    assert [one["type"] for one in route["step"]] == ["{writer} look > {makes}", "{writer} scour {slot}"]
    assert route["step"][0]["makes"] == "CARD.TXT"


def test_a_file_with_open_questions_is_refused_at_their_lines() -> None:
    draft = made(())
    loaded = load_source(source_of("d.toml", draft.text.encode()), pytest.fail)
    rows = draft.text.splitlines()
    told = [one for one in loaded.problems if "still open" in one.text]
    assert len(told) == len(draft.asks) > 5
    for one in told:
        assert rows[one.line - 1].strip().strip('",') in one.text


def test_digests_are_bounded_and_what_is_left_out_is_asked() -> None:
    held = tuple(
        Piece(f"{number:064x}", f"T{number}.EXE", (f"{number}/T.EXE",), (f"{number // 20}.zip",), "dos-program", b"MZ")
        for number in range(MOST_DIGESTS + 60)
    )
    draft = made(held)
    check(draft)
    told = tomllib.loads(draft.text)
    assert sum(len(one["writer"]["sha256"]) for one in told["release"]) == MOST_DIGESTS
    assert "more" in {one.key for one in draft.asks}


@pytest.mark.parametrize(
    "line",
    ["a" * 99, ". " * 149, "Address : 5F23401000001A40", "a:b=d " * 40, "A:\\" + "x" * 99, "1  2  3  5F23401000001A40"],
    ids=["word", "dots", "address", "signs", "prompt", "columns"],
)
def test_long_texts_of_odd_lines_are_read_in_time(line: str) -> None:
    tool = Piece("1" * 64, "TOOL.EXE", ("TOOL.EXE",), ("",), "dos-program", b"MZ")
    began = time.process_time()
    check(made((tool, opaque("A.BIN", dump("big"))), Text("T", (line,) * 20_000, saved=True)))
    assert time.process_time() - began < 10
