"""What a piece looks like that is not what a card wants: a web page, a pointer to a file, hex text, a patch."""

from __future__ import annotations

import re

PLAIN = "plain"
_SHOWN = 4_096
_BINARY_PATCHES = (b"\xd6\xc3\xc4", b"BSDIFF40", b"BSDIFN40", b"PATCH")
"""VCDIFF (RFC 3284, 4.1); the headers of bsdiff and IPS patches (from memory)."""
_WEB = re.compile(r"<(?:!doctype\s+html|html|head|body)[\s>]", re.I)
"""HTML Living Standard, 13.1 (comments, the doctype, then the html element); some may be left out."""
_BEFORE_WEB = re.compile(r"\s*(?:<\?xml[^>]*>|<!--.*?-->)", re.S)
_POINTER = re.compile(
    r"\s*(?:version https?://[\w./-]*(?:git-lfs|hawser)[\w./-]*\n"  # Git LFS specification, "The Pointer"
    r"|(?:[\w./-]*\.git)?/annex/objects/\S+\s*\Z"  # git-annex, "pointer file" (from memory)
    r"|\[InternetShortcut\]\s"  # URL shortcut (from memory)
    r"|\[Desktop Entry\](?=[^\0]*^Type=Link$)"  # Desktop Entry Specification, "Type"
    r"|\w{2,10}://\S+\s*\Z)",
    re.M,
)
_PATCH = re.compile(r"^(?:diff --git \S|Index: \S+\n=+$|--- \S.*\n\+\+\+ \S|\*\*\* \S.*\n--- \S.*\n\*{15})", re.M)
"""POSIX diff: unified and copied context; the lines before them as version control writes them."""
_PATCH_BODY = re.compile(r"^(?:@@ -\d+(?:,\d+)? \+\d+|\*{15}|GIT binary patch|Binary files |rename )", re.M)
_RECORD = re.compile(
    r":[0-9A-Fa-f]{10,520}"  # Intel HEX: count, address, type, data, sum (from memory)
    r"|S[0-9][0-9A-Fa-f]{8,510}"  # S-record (from memory)
)
_HEX_LINE = re.compile(
    r"(?:0x)?[0-9A-Fa-f]{4,16}[:h]?\s(?:\s*[0-9A-Fa-f]{2,8}\b){4,}.*"  # a dump: address, then bytes
    r"|(?:[0-9A-Fa-f]{2}[ ,:-]){3,}[0-9A-Fa-f]{2}\s*"
    r"|(?:[0-9A-Fa-f]{2}){8,}"
)
_HEX_DIGITS = frozenset("0123456789ABCDEFabcdef")
_NUMBERS = re.compile(r"[{}\s,;0-9A-Fa-fxX]+")
"""A list of numbers for a compiler, where 0x stands in it often enough."""
_HEX_LINES = 8
_LEAST_DIGITS = 40
"""Hex digits without record marks that make hex text: a card's address or two are shorter."""


def binary_looks(first: bytes) -> str:
    """ "patch" where a piece begins as a binary patch does, else ""."""
    return "patch" if first.startswith(_BINARY_PATCHES) else ""


def text_looks(text: str) -> str:
    """web-page, pointer-file, hex-text, patch or plain, by the beginning of a text."""
    head = text[:_SHOWN].replace("\r\n", "\n")
    if _is_web(head):
        return "web-page"
    if _POINTER.match(head):
        return "pointer-file"
    if _PATCH.search(head) and _PATCH_BODY.search(head):
        return "patch"
    return "hex-text" if _is_hex(head, len(text) > _SHOWN) else PLAIN


def _is_web(head: str) -> bool:
    at = 0
    while skipped := _BEFORE_WEB.match(head, at):
        at = skipped.end()
    return _WEB.match(head[at:].lstrip()) is not None


def _is_hex(head: str, cut: bool) -> bool:
    """Whether the first lines that are not blank are hex, all but a title; a cut line counts as far as it goes."""
    lines = [line.strip() for line in head.split("\n")]
    if cut and len(lines) > 1:
        lines.pop()
    lines = [line for line in lines if line][: _HEX_LINES + 1]
    if not lines:
        return False
    if cut and len(lines) == 1:
        lines[0] = lines[0][: len(lines[0]) // 2 * 2]
    records = [line for line in lines if _RECORD.fullmatch(line)]
    hexed = records or [line for line in lines if _is_hex_line(line)]
    if len(hexed) < len(lines) - (1 if len(lines) > 3 else 0):
        return False
    return bool(records) or sum(sign in _HEX_DIGITS for line in hexed for sign in line) >= _LEAST_DIGITS


def _is_hex_line(line: str) -> bool:
    return _HEX_LINE.fullmatch(line) is not None or (line.count("0x") >= 4 and _NUMBERS.fullmatch(line) is not None)
