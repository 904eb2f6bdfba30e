"""Texts: notes, listings, and what merely came as text (a web page, a pointer to a file, hex text, a patch)."""

from __future__ import annotations

import re

from catalogue.formats.looks import PLAIN, text_looks
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.text_decoding import Text, decode, may_be_text
from catalogue.formats.view import View
from catalogue.shapes.reading import Field, Reading

TITLE_LENGTH = 76
_TITLES = {"pointer-file": "Pointer to another file", "hex-text": "Bytes as hex text", "patch": "Patch for other files"}
_ELEMENT = re.compile(r"<title[^>]{0,200}>([^<]{1,400})<", re.I)
_ESCAPES = re.compile(r"\x1b\[[0-9;]{0,16}[A-Za-z]")


def looks_like(view: View) -> Looks:
    """MAYBE where the first bytes are text; the rest shows only in reading."""
    return Looks.MAYBE if may_be_text(view) else Looks.NO


def read(view: View) -> Reading | None:
    """The text that fills `view`; None where a byte in it is not text."""
    found = decode(view)
    if found is None:
        return None
    looks = text_looks(found.text)
    both = found.text.count("\r\n")
    counts = {"crlf": both, "lf": found.text.count("\n") - both, "cr": found.text.count("\r") - both}
    used = [name for name, count in counts.items() if count]
    ending = used[0] if len(used) == 1 else ("mixed" if used else "none")
    return Reading(
        format="text",
        kind="text",
        title=_title(found, looks),
        length=view.size,
        fields=(
            Field("looks", looks, None, 0, "What it is by its beginning"),
            Field("encoding", found.encoding, 0, found.mark, "How its bytes stand for signs"),
            Field("line_ending", ending, None, 0, "How its lines end"),
            Field("lines", sum(counts.values()), None, 0, "Line endings" + (", as far as read" if found.cut else "")),
        ),
    )


def first_line(text: str) -> str:
    """The first line with a letter or digit in it, blanks closed up, control signs left out, shortened; "" if none."""
    for line in text.splitlines()[:200]:
        plain = _ESCAPES.sub("", line[:2_000])
        shown = " ".join("".join(sign if sign.isprintable() else " " for sign in plain).split())
        if any(sign.isalnum() for sign in shown):
            return shown if len(shown) <= TITLE_LENGTH else shown[: TITLE_LENGTH - 1].rstrip() + "…"
    return ""


def _title(found: Text, looks: str) -> str:
    if looks == PLAIN:
        return first_line(found.text[:65_536]) or "Text without words"
    if looks == "web-page":
        element = _ELEMENT.search(found.text, 0, 65_536)
        name = first_line(element[1]) if element else ""
        return f"Web page: {name}" if name else "Web page"
    return _TITLES[looks]


READER = Reader(
    name="text",
    kinds=("text",),
    looks_like=looks_like,
    read=read,
    version=1,
    text=True,
    alone=True,
    source="The Unicode Standard, 23.8; code page 437; ISO 8859-1",
    depth="encoding, line endings, first line; whether it is a web page, a pointer to a file, hex text or a patch",
)
