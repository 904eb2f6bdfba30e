"""Patterns against a slow matcher that follows family-file.md word by word, and at their bounds."""

from __future__ import annotations

import time

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from catalogue.families import patterns
from catalogue.families.limits import MAX_SEPARATOR, MAX_SLOT, MAX_TRIES, MAX_VALUE, MAX_VERSION
from catalogue.families.load import load_file
from catalogue.families.patterns import find, find_text, patterns_of
from catalogue.shapes.reading import Match
from tests.families.sample import FILE

WORD = set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789")
RUNS = {"version": WORD | set("._-"), "slot": WORD | set(":.")}
BLANKS = set(" \t.:=")


def units(data: bytes, start: int, width: int) -> list[str]:
    """The characters from `start` on, one or two bytes each; what is no ASCII is a lone `?`-like mark."""
    out = []
    for at in range(start, len(data) - width + 1, width):
        low, high = data[at], data[at + 1] if width == 2 else 0
        out.append(chr(low) if high == 0 and low < 128 else "�")
    return out


def run_from(chars: list[str], at: int, allowed: set[str]) -> int:
    while at < len(chars) and chars[at] in allowed:
        at += 1
    return at


def slow_at(parts: list[tuple[str, str]], chars: list[str], before: str) -> tuple[int, int, int] | None:
    """End of the match, and start and end of what the placeholder took, in characters."""
    at, took = 0, (0, 0)
    for number, (kind, text) in enumerate(parts):
        if kind == "text":
            if chars[at : at + len(text)] != list(text):
                return None
            at += len(text)
        elif kind == "separator":
            end = run_from(chars, at, BLANKS)
            if end == at or (number == 0 and before in BLANKS):
                return None
            at = end
        elif kind == "value":
            end = at
            while end < len(chars) and chars[end] not in "\0\r\n":
                end += 1
            while at < end and chars[at] in " \t":
                at += 1
            while at < end and chars[end - 1] in " \t":
                end -= 1
            if at == end:
                return None
            took, at = (at, end), end
        else:
            end = run_from(chars, at, RUNS[kind])
            if (number == 0 and before in RUNS[kind]) or (kind == "slot" and end - at > 16):
                return None
            while end > at and chars[end - 1] not in WORD:
                end -= 1
            if end == at or (kind == "version" and not any(one in "0123456789" for one in chars[at:end])):
                return None
            took, at = (at, end), end
    return at, *took


def slow_parts(pattern: str) -> list[tuple[str, str]]:
    out: list[tuple[str, str]] = []
    at, text = 0, ""
    while at < len(pattern):
        place = next((one for one in ("version", "value", "slot") if pattern.startswith("{" + one + "}", at)), None)
        if place:
            out += [("text", text)] if text else []
            out.append((place, ""))
            at, text = at + len(place) + 2, ""
        elif pattern[at] == "~":
            text = text.rstrip(" \t")
            out += [("text", text)] if text else []
            out.append(("separator", ""))
            at, text = at + 1, ""
            while at < len(pattern) and pattern[at] in " \t":
                at += 1
        else:
            text += pattern[at]
            at += 1
    return out + ([("text", text)] if text else [])


def slow(data: bytes, pattern: str) -> tuple[int, int, str] | None:
    parts = slow_parts(pattern)
    for start in range(len(data)):
        for width in (1, 2):
            before = (units(data[start - width : start], 0, width) or [""])[0] if start >= width else ""
            found = slow_at(parts, units(data, start, width), before)
            if found:
                end, first, last = found
                raw = data[start + first * width : start + last * width]
                value = raw.decode("utf-16-le" if width == 2 else "ascii", "backslashreplace")
                return start, end * width, value
    return None


def slow_text(data: bytes, text: str) -> tuple[int, int] | None:
    for start in range(len(data)):
        for width in (1, 2):
            chars = units(data, start, width)
            if chars[: len(text)] != list(text):
                continue
            before = units(data[start - width : start], 0, width) if start >= width else []
            after = chars[len(text) : len(text) + 1]
            if (text[0] in WORD and before and before[0] in WORD) or (text[-1] in WORD and after and after[0] in WORD):
                continue
            return start, len(text) * width
    return None


PATTERNS = [
    "AB {version}",
    "AB{version}",
    "a{version}",
    "A ~ {value}",
    "A~{slot}",
    "AB ~ {version} b",
    "{version} A",
    "~ A{slot}",
    "{slot}-A",
    "A{version}.",
    "A {value}",
]
text_bytes = st.text(st.sampled_from("AABab12 .:=-_~\t\n\r\0"), max_size=24)
pieces = st.one_of(
    text_bytes.map(lambda one: one.encode("ascii")),
    text_bytes.map(lambda one: one.encode("utf-16-le")),
    st.sampled_from([b"\x00", b"\xff", b"A", b"AB 1.2", "AB 1.2".encode("utf-16-le"), b"\xc3\xa9"]),
)


@settings(deadline=None)
@given(st.lists(pieces, max_size=5).map(b"".join), st.sampled_from(PATTERNS))
@example(b"AB AB 1..", "AB {version}")
@example(b"xA  \t1 2 \t\0", "A {value}")
@example(b"A\0 \0\xe9\0 \0\0\0", "A {value}")
@example(b"1.2. A", "{version} A")
@example(b"x 1.2 A", "{version} A")
@example(b"A1.2._.", "A{version}.")
@example("A1.2.".encode("utf-16-le"), "A{version}.")
@example(b".:1:2-A", "{slot}-A")
@example(b"A :.= A.1", "~ A{slot}")
def test_find_agrees_with_the_slow_matcher(data: bytes, pattern: str) -> None:
    found = find(data, pattern)
    assert (found and (found.offset, found.length, found.value)) == slow(data, pattern)


@settings(deadline=None)
@given(st.lists(pieces, max_size=5).map(b"".join), st.sampled_from(["A", "AB", "a.", " A", "AB 1", "-", "A~B", "{A}"]))
def test_find_text_agrees_with_the_slow_matcher(data: bytes, text: str) -> None:
    found = find_text(data, text)
    assert (found and (found.offset, found.length)) == slow_text(data, text)
    assert find(data, text) == found


@pytest.mark.parametrize(
    ("data", "pattern", "value"),
    [
        (b"\x00CVFW 12.04.0, made", "CVFW {version}", "12.04.0"),
        (b"CVFW 12.04.0.\r\n", "CVFW {version}", "12.04.0"),
        (b"CVFW beta CVFW 9.1", "CVFW {version}", "9.1"),
        (b"cvfw 1.0", "CVFW {version}", None),
        (b"Board issue....: C \t\r\nD", "Board issue ~ {value}", "C"),
        (b"Board issue C", "Board issue ~ {value}", "C"),
        (b"Board issueC", "Board issue ~ {value}", None),
        (b"Berth = 03:00.0: x", "Berth ~ {slot}", "03:00.0"),
        (b"Berth = 12345678901234567", "Berth ~ {slot}", None),
        (b"Hull number : \r\nnext", "Hull number ~ {value}", None),
        (b"Hull number : a\xe9b\0", "Hull number ~ {value}", "a\\xe9b"),
        ("Hull number : aé".encode("utf-16-le"), "Hull number ~ {value}", "aé"),
    ],
)
def test_what_placeholders_take(data: bytes, pattern: str, value: str | None) -> None:
    found = find(data, pattern)
    assert (found.value if found else None) == value


def test_a_slot_is_short() -> None:
    longest = "1" * MAX_SLOT
    assert find(b"Berth " + longest.encode(), "Berth ~ {slot}") == Match(0, 6 + MAX_SLOT, longest)
    assert find(b"Berth 1" + longest.encode(), "Berth ~ {slot}") is None


def test_the_earliest_of_both_encodings_counts() -> None:
    wide = "CVFW 1.0".encode("utf-16-le")
    assert find(wide + b"CVFW 2.0", "CVFW {version}") == Match(0, 16, "1.0")
    assert find(b"\0CVFW 2.0\0" + wide, "CVFW {version}") == Match(1, 8, "2.0")


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"BITTERN RD", True),
        (b"xBITTERN RD", False),
        (b"BITTERN RD2", False),
        (b"\xe9BITTERN RD\xe9", True),
        (b"-BITTERN RD-", True),
        (b"BITTERN RDx BITTERN RD", True),
        ("xBITTERN RD".encode("utf-16-le"), False),
        ("-BITTERN RD\0".encode("utf-16-le"), True),
    ],
)
def test_a_string_has_a_boundary(data: bytes, found: bool) -> None:
    assert (find_text(data, "BITTERN RD") is not None) is found


@pytest.mark.parametrize(
    "pattern",
    ["{version}{value}", "A {value} B", "{verison}", "A {version", "é {version}", "A\n{version}", "{version}", "~",
     "A ~ :{value}", "A {version} B {version}", "~ {value}"],
)
def test_what_is_no_pattern_is_refused(pattern: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        patterns.tokens(pattern)


@pytest.mark.parametrize("text", ["", "é"])
def test_what_cannot_be_looked_for_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="ASCII"):
        find_text(b"", text)


def test_runs_have_a_bound() -> None:
    assert find(b"V " + b"1" * MAX_VERSION, "V {version}") is not None
    assert find(b"V " + b"1" * (MAX_VERSION + 1), "V {version}") is None
    assert find(b"1" * MAX_VERSION + b" V", "{version} V") is not None
    assert find(b"1" * (MAX_VERSION + 1) + b" V", "{version} V") is None
    assert find(b"V" + b"=" * MAX_SEPARATOR + b"1", "V ~ {version}") is not None
    assert find(b"V" + b"=" * (MAX_SEPARATOR + 1) + b"1", "V ~ {version}") is None
    assert find(b"V=" + b"x" * MAX_VALUE, "V ~ {value}") is not None
    assert find(b"V=" + b"x" * (MAX_VALUE + 1), "V ~ {value}") is None


def test_tries_have_a_bound() -> None:
    astray = b"V x " * (MAX_TRIES - 1)
    assert find(astray + b"V 1", "V {version}") is not None
    assert find(astray + b"V x V 1", "V {version}") is None
    assert find_text(b"xV " * (MAX_TRIES - 1) + b"V", "V") is not None
    assert find_text(b"xV " * MAX_TRIES + b"V", "V") is None


@pytest.mark.parametrize("pattern", ["a{version}", "a ~ {version}", "a {value}", "{version} a", "~ a", "a{slot}", "a"])
@pytest.mark.parametrize("filling", [b"a", b"a.", b"a ", b".", b" ", b"1", b"a\0", b"a\0.\0", b"\n"])
def test_no_content_runs_away(pattern: str, filling: bytes) -> None:
    data = filling * (1_000_000 // len(filling))
    began = time.process_time()
    find(data, pattern)
    assert time.process_time() - began < 5


def test_patterns_of_a_family() -> None:
    family = load_file(FILE).family
    assert family is not None
    assert patterns_of(family) == (
        "BITTERN RD", "BITTERN PT", "CVFW {version}", "CVLB {version}", "QUAYHAND", "QUAYHAND {version}",
    )
