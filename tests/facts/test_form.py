"""Facts files: what is written is read again as it was, there is one way only to write it, and all else is refused."""

from __future__ import annotations

import base64
import random
import time
import tracemalloc
from unicodedata import ucd_3_2_0

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.facts import form, reading
from catalogue.facts.form import NotFacts, spelt, spoken
from catalogue.facts.writing import text_of
from catalogue.shapes.facts import FactsFile, Said, fact_id
from tests.facts.made import FACTS, FILES, SAID, fact, sha

TEXT = text_of(FACTS)


def ordered(file: FactsFile) -> FactsFile:
    every = sorted(file.facts, key=lambda one: one.bench, reverse=True)
    facts = sorted({one.id: one for one in every}.values(), key=lambda one: one.order)
    return FactsFile(file.bench, file.sent_by, tuple(facts), tuple(sorted(file.families, key=lambda one: one.id)))


@settings(max_examples=40)
@given(FILES)
def test_what_is_written_is_read_again(file: FactsFile) -> None:
    text = text_of(file)
    again = reading.read(text.encode())
    assert again == ordered(file)
    assert text_of(again) == text
    assert all(line.isprintable() for line in text.split("\n"))


@settings(max_examples=30)
@given(FILES, st.randoms())
def test_the_same_facts_the_same_bytes(file: FactsFile, order: random.Random) -> None:
    facts, families = list(file.facts), list(file.families)
    order.shuffle(facts)
    order.shuffle(families)
    assert text_of(FactsFile(file.bench, file.sent_by, tuple(facts * 2), tuple(families))) == text_of(file)


@settings(max_examples=60)
@given(SAID, SAID)
def test_an_id_is_of_all_that_is_said(one: Said, other: Said) -> None:
    assert (fact_id(one) == fact_id(other)) == (one == other)


@given(st.text())
def test_a_spelling_says_its_value(value: str) -> None:
    found = spelt(value)
    assert spoken(found) == value
    assert found == found.strip()
    assert all(one == " " or ucd_3_2_0.category(one)[0] not in "CZ" for one in found)


@pytest.mark.parametrize("spelling", ["\\", "a\\", "\\u{}", "\\u{110000}", "\\n", "\\u{1f}", "\\u{1F", "\\x41"])
def test_no_spelling(spelling: str) -> None:
    with pytest.raises(ValueError, match="escape"):
        spoken(spelling)


def test_a_person_can_read_it_and_base64_and_sha256_agree() -> None:
    """base64 (RFC 4648) and SHA-256 (FIPS 180-4) by the standard library, the layout by eye."""
    lines = TEXT.split("\n")
    assert lines[:3] == ["Kitproof facts 1", "bench: Saltmarsh", "sent by: Ann Reed"]
    assert "  source: the maker's page" in lines
    assert '  reason: said "yes" \\\\ no' in lines
    assert "  text: schema = 1\\u{D}" in lines
    body = "".join(line[8:] for line in lines if line.startswith("  body: "))
    assert base64.b64decode(body) == bytes(range(42)) * 3
    assert lines[-2:] == ["end: 6", ""]


def damaged(old: str, new: str) -> bytes:
    assert old in TEXT
    return TEXT.replace(old, new, 1).encode("utf-8", "surrogatepass")


REFUSED: dict[str, bytes] = {
    "nothing": b"",
    "another version": damaged("facts 1", "facts 2"),
    "CR LF": TEXT.replace("\n", "\r\n").encode(),
    "a byte order mark": b"\xef\xbb\xbf" + TEXT.encode(),
    "no UTF-8": damaged("Ann Reed", "Ann") + b"\xff",
    "cut short": TEXT.encode()[:-40],
    "the last line feed gone": TEXT.encode()[:-1],
    "more behind the end": TEXT.encode() + b"\n",
    "another count": damaged("end: 6", "end: 5"),
    "a blank at an end of line": damaged("by: Ann\n", "by: Ann \n"),
    "an unknown block": damaged("\nlist\n", "\nlisting\n"),
    "an unknown line": damaged("  source: the", "  origin: the"),
    "a fact changed": damaged("the maker's page", "a stranger's page"),
    "a digest changed": damaged("  line: 1 sha256 ca", "  line: 1 sha256 cb"),
    "who said it changed": damaged("by: Bo", "by: Al"),
    "two facts exchanged": damaged("\nlist\n", "\nword\n"),
    "a family changed": damaged('corvane-heron"  #', 'corvane-hero"  #'),
    "a name that leads elsewhere": damaged("name: SHA256SUMS", "name: ../SHA256SUMS"),
    "a NUL": damaged("holder: Corvane", "holder: Corvane\\u{0}"),
    "half a pair of UTF-16": damaged("holder: Corvane", "holder: \\u{D800}"),
    "an escape of a letter": damaged("holder: Corvane", "holder: \\u{43}orvane"),
    "no time": damaged("2026-03-01T12", "2026-13-01T12"),
    "another zone": damaged("12:00:00+00:00", "12:00:00+01:00"),
    "a bench without a name": damaged("bench: Saltmarsh\n", "bench: \n"),
    "no base64": damaged("body: AAEC", "body: A*EC"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_not_written_so_is_refused(name: str) -> None:
    with pytest.raises(NotFacts) as wrong:
        reading.read(REFUSED[name])
    assert wrong.value.line >= 1


def test_the_line_is_told() -> None:
    at = TEXT.split("\n").index("  source: the maker's page") + 1
    with pytest.raises(NotFacts) as wrong:
        reading.read(damaged("  source: the", "  origin: the"))
    assert wrong.value.line == at


@given(st.integers(0, len(TEXT.encode()) - 1), st.integers(1, 255))
def test_no_byte_goes_unread(at: int, change: int) -> None:
    data = bytearray(TEXT.encode())
    data[at] ^= change
    try:
        held = reading.read(bytes(data))
    except NotFacts:
        return
    assert text_of(held).encode() == bytes(data)
    assert held != FACTS, "every byte says something"


@given(st.binary(max_size=200))
def test_bytes_of_any_kind(data: bytes) -> None:
    with pytest.raises(NotFacts):
        reading.read(b"Kitproof facts 1\n" + data)


def entries(count: int) -> str:
    return "".join(f"  line: {n} md5 {'0' * 32}\n" for n in range(1, count + 1))


HEAD = "Kitproof facts 1\nbench: x\nsent by: y\n\nlist\n  id: " + "0" * 64 + "\n  bench: x\n  by:\n"
HEAD += "  at: 2026-03-01T12:00:00+00:00\n  source: s\n  name:\n  sha256: " + "0" * 64 + "\n"
FAMILY = "Kitproof facts 1\nbench: x\nsent by: y\n\nfamily\n  id: a\n  sha256: " + "0" * 64 + "\n"
BOUNDS: dict[str, tuple[str, dict[str, int], str]] = {
    "bytes": ("longer than 8 MiB", {}, "x" * (form.MAX_FILE_BYTES + 1)),
    "a line": ("longer than 8000 characters", {}, f"Kitproof facts 1\nbench: {'x' * form.MAX_LINE}\n"),
    "digests": ("more than 500 digests", {"MAX_ENTRIES": 500}, HEAD + entries(501)),
    "a family": ("text is longer than 160", {"MAX_FAMILY": 160}, FAMILY + "  text: xxxxxxxxxxxxxxx\n" * 11),
    "families": (
        "64 family files", {},
        "Kitproof facts 1\nbench: x\nsent by: y\n"
        + "".join(f"\nfamily\n  id: a{n}\n  sha256: {sha('x')}\n  text: x\n" for n in range(65)),
    ),
    "facts": ("more than 5 facts", {"MAX_FACTS": 5}, TEXT),
    "a listing": ("before is longer than 4", {"MAX_TEXT": 4}, TEXT),
    "a key": ("too long", {"MAX_KEY": 90}, TEXT),
}  # fmt: skip


@pytest.mark.parametrize("name", BOUNDS)
def test_each_bound_is_reached(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    said, smaller, text = BOUNDS[name]
    for bound, value in smaller.items():
        monkeypatch.setattr(form, bound, value)
    with pytest.raises(NotFacts, match=said):
        reading.read(text.encode())


def test_lines_are_not_laid_out_before_they_are_read() -> None:
    tracemalloc.start()
    with pytest.raises(NotFacts, match="empty line"):
        reading.read(b"Kitproof facts 1\nbench: x\nsent by: y\nx\n" + b"\n" * (7 << 20))
    _now, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 40 << 20


def test_a_big_file_is_read_in_bounds() -> None:
    from catalogue.shapes.facts import ListFact
    from catalogue.shapes.reading import ListEntry

    every = tuple(ListEntry("md5", f"{n:032x}", f"name {n}", n) for n in range(1, 20_001))
    said = ListFact("Ann", "2026-03-01T12:00:00+00:00", "a page", "MD5SUMS", "0" * 64, every)
    data = text_of(FactsFile("a", "b", (fact(said),))).encode()
    begun = time.process_time()
    assert reading.read(data).facts[0].said == said
    assert time.process_time() - begun < 2 + 2 * len(data) / (1 << 20)
