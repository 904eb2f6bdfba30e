"""Texts: encodings, line endings, titles, and what only came as text."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import text_decoding, text_note
from catalogue.formats.limits import MAX_SCAN
from catalogue.formats.reader import Looks
from catalogue.formats.text_decoding import decode
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading

PRINTABLE = st.text(st.characters(exclude_categories=["Cc", "Cs", "Cn"], exclude_characters="\ufeff"), min_size=1)


def read(data: bytes) -> Reading:
    reading = text_note.read(BytesView(data))
    assert reading is not None
    return reading


@given(PRINTABLE, st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be"]))
def test_unicode_texts_come_back(text: str, encoding: str):
    """Python's own codecs write them; what is decoded is what was written."""
    data = (("\ufeff" if encoding == "utf-16-be" else "") + text).encode(encoding)
    found = decode(BytesView(data))
    assert found is not None
    assert found.text == text
    assert not found.cut
    assert read(data).kind == "text"


@given(st.binary(min_size=1, max_size=200))
def test_binaries_are_no_texts(data: bytes):
    """Whatever holds a control byte that no text needs is none, unless it is marked as UTF-16."""
    if not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        assert text_note.read(BytesView(data + b"\x01")) is None


@pytest.mark.parametrize(
    ("text", "encoding", "want"),
    [
        ("Bench notes", "ascii", "ascii"),
        ("Grüße", "utf-8", "utf-8"),
        ("Käfer und Grüße, nur wenige", "latin-1", "latin-1"),
        ("Käfer und Grüße, nur wenige", "cp437", "cp437"),
        ("“quoted” – and … more", "cp1252", "latin-1"),
        ("╔══════╗\n║ Bench ║\n╚══════╝", "cp437", "cp437"),
        ("Bench", "utf-16-le", "utf-16-le"),
    ],
)
def test_encodings(text: str, encoding: str, want: str):
    mark = b"\xff\xfe" if encoding == "utf-16-le" else b""
    assert read(mark + text.encode(encoding)).value("encoding") == want


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff" * 40,
        b"\xb0" * 40,
        b"ab\xe4\xfc\xe4\xfc\xe4\xfc",
        b"text\0",
        b"text" * 200 + b"\x02",
        b"\xff\xfea",
        b"\xff\xfe\x01\0",
        b"\xef\xbb\xbf\xff",
        b"\xff\xfe\0\xd8",
        b"del\x7f",
    ],
)
def test_what_is_no_text(data: bytes):
    assert text_note.read(BytesView(data)) is None


def test_first_bytes_decide_early():
    assert text_note.looks_like(BytesView(b"\0" * 9)) is Looks.NO
    assert text_note.looks_like(BytesView(b"a")) is Looks.MAYBE


@pytest.mark.parametrize(
    ("data", "ending", "lines"),
    [
        (b"a\r\nb\r\n", "crlf", 2),
        (b"a\nb\n", "lf", 2),
        (b"a\rb\r", "cr", 2),
        (b"a\r\nb\nc", "mixed", 2),
        (b"a", "none", 0),
        (b"a\r\n\x1a", "crlf", 1),
    ],
)
def test_line_endings(data: bytes, ending: str, lines: int):
    assert (read(data).value("line_ending"), read(data).value("lines")) == (ending, lines)


@pytest.mark.parametrize(
    ("text", "title"),
    [
        ("\n\n  Bench\t notes  \nmore\n", "Bench notes"),
        ("=====\n-----\nThe real title\n", "The real title"),
        ("\x1b[1;31mRed\x1b[0m title", "Red title"),
        ("left\u202eright", "left right"),
        ("", "Text without words"),
        ("....\n!!\n", "Text without words"),
        ("word " * 100, ("word " * 100)[:75].rstrip() + "…"),
        ("\n" * 300 + "too deep", "Text without words"),
    ],
)
def test_titles(text: str, title: str):
    assert read((text or " ").encode()).title == title


@pytest.mark.parametrize(
    ("looks", "text"),
    [
        ("web-page", "<!DOCTYPE html>\n<html><head><title>Not here</title></head><body>…</body></html>"),
        ("web-page", "\n<!-- a --> <!-- b -->\n<HTML lang=en><body>x"),
        ("web-page", '<?xml version="1.0"?><!DOCTYPE html PUBLIC "-//W3C//DTD XHTML 1.0 Strict//EN">'),
        ("pointer-file", "version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 12\n"),
        ("pointer-file", "/annex/objects/SHA256E-s12--0000.rom\n"),
        ("pointer-file", "../.git/annex/objects/x/y/SHA256E-s12--0000.rom"),
        ("pointer-file", "[InternetShortcut]\r\nURL=http://example.org/a.rom\r\n"),
        ("pointer-file", "[Desktop Entry]\nName=ROM\nType=Link\nURL=http://example.org/\n"),
        ("pointer-file", "https://example.org/files/a.rom\n"),
        ("patch", "diff --git a/x b/x\nindex 1..2\n--- a/x\n+++ b/x\n@@ -1,2 +1,3 @@\n-a\n+b\n"),
        ("patch", "--- old.txt\t2026-01-01\n+++ new.txt\t2026-01-02\n@@ -1 +1 @@\n-a\n+b\n"),
        ("patch", "*** old.txt\n--- new.txt\n***************\n*** 1 ****\n! a\n--- 1 ----\n! b\n"),
        ("patch", "From 0 Mon Sep 17\nSubject: x\n\n---\ndiff --git a/x b/y\nrename from x\nrename to y\n"),
        ("hex-text", ":10010000214601360121470136007EFE09D2190140\n:00000001FF\n"),
        ("hex-text", "S00F000068656C6C6F202020202000003C\nS9030000FC\n"),
        ("hex-text", "00000000: 55aa 40e9 0000 0000 0000 0000 0000 0000  U.@.............\n"),
        ("hex-text", "00000000  55 aa 40 e9 00 00 00 00  00 00 00 00 00 00 00 00  |U.@.............|\n"),
        ("hex-text", "0x55, 0xAA, 0x40, 0xE9,\n0x00, 0x00, 0x00, 0x00,\n" * 4),
        ("hex-text", "55 AA 40 E9 00 00\n" * 4),
        ("hex-text", "A title\n" + "55aa40e900000000\n" * 4),
        ("plain", "A title\nAnd more\n" + "55aa40e900000000\n" * 4),
        ("plain", "55aa40\n" + "55aa" * 3000),  # three bytes are too few to say, and a cut line is left out
        ("plain", "5F:23:40:10:00:00:00:10\n"),
        ("plain", "A title\n" + "55aa40e900000000" * 4 + "\n"),
        ("plain", "A title\n:10010000214601360121470136007EFE09D2190140\n"),
        ("hex-text", "55aa40e900000000" * 4 + "\n" + "55aa" * 3000),
        ("hex-text", "55" * 2047 + "5 5" + "55" * 3000),
        ("plain", "5F23401000000010\n5F23401000000018\n"),
        ("hex-text", "55aa" * 3000),
        ("plain", "Bench notes\n"),
        ("plain", "12.04.0\n"),
        ("plain", "The <html> element is the root.\n"),
        ("plain", "--- cut here ---\n+++\n"),
        ("plain", "diff --git is a command.\n"),
        ("plain", "See https://example.org/ for more.\n"),
        ("plain", "[Desktop Entry]\nType=Application\n"),
        ("plain", "S1 and S2 are switches\n"),
        ("plain", "deadbeef cafe\n"),
    ],
)
def test_what_a_text_looks_like(looks: str, text: str):
    reading = read(text.encode())
    assert reading.value("looks") == looks
    assert read(text.replace("\n", "\r\n").encode()).value("looks") == looks
    assert reading.kind == "text"


def test_titles_of_what_only_came_as_text():
    assert read(b"<!DOCTYPE html><title>\n Not  here\n</title>").title == "Web page: Not here"
    assert read(b"<!DOCTYPE html><p>").title == "Web page"
    assert read(b"https://example.org/\n").title == "Pointer to another file"


@pytest.mark.parametrize(
    "text",
    [
        "<!---->" * 3000,
        "<!--" * 3000,
        "0x1  0x2  " * 1000 + "!",
        "1234 " * 5000,
        "--- a\n" * 5000,
        "\x1b[" * 4000,
        "[Desktop Entry]\n" + "Type=\n" * 900,
    ],
)
def test_nothing_runs_away(text: str):
    started = time.process_time()
    read(text.encode())
    assert time.process_time() - started < 1


def test_long_texts_are_read_so_far():
    data = "ä".encode() * (MAX_SCAN // 2 + 10)
    data = b"x" + data
    found = decode(BytesView(data))
    assert found is not None
    assert found.cut
    assert found.encoding == "utf-8"
    assert "as far as read" in read(data).fields[-1].meaning
    assert text_decoding.may_be_text(BytesView(data))
