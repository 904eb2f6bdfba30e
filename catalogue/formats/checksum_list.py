"""Checksum lists, in the spellings that the usual tools write and read.

GNU coreutils manual, "cksum output modes" and "md5sum invocation" (text and binary mark, leading backslash for names
with a backslash or a line end, `--tag`); OpenSSL manual, openssl-dgst; RFC 9580, section 7 (text signed in the clear).
A list says what its bytes should be, not who wrote it. Where it is signed in the clear, the lines inside the signed
text are its entries, whatever stands around it, and its signatures are read as parts; whether they hold is asked of a
key that a person has recorded, and here none is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from catalogue.formats.limits import MAX_LIST_BYTES, MAX_LIST_ENTRIES, MAX_SIGNATURES, MAX_TEXT
from catalogue.formats.openpgp_armour import BEGIN, END, unarmour
from catalogue.formats.openpgp_packets import DamagedError, SignaturePacket, packets
from catalogue.formats.openpgp_signature import part_of
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.text_decoding import MARK_BYTES, MARKS
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, ListEntry, Reading

DIGITS = {32: "md5", 40: "sha1", 56: "sha224", 64: "sha256", 96: "sha384", 128: "sha512"}
"""Hex digits of a digest: RFC 1321; FIPS 180-4, table 1."""
_LENGTHS = {algorithm: digits for digits, algorithm in DIGITS.items()}
_OTHERS = re.compile(r"BLAKE2\w*(?:-\d+)?|BLAKE3|SHA3[-_]\d+|SHA[-_]?512[/-](?:224|256)|SHAKE\w*|SM3|RIPEMD\w*|RMD\w*|"
                     r"WHIRLPOOL|TIGER\w*|CRC\w*|MD2|MD4|MD5-SHA1|KECCAK\S*", re.I)  # fmt: skip
"""Algorithms that lists name and that are not read here; their lines are counted, not faulted."""
HEAD_BYTES = 16 << 10
_CLASSES = bytes(ord("h") if byte in b"0123456789ABCDEFabcdef" else 0 for byte in range(256))
_RUN = b"h" * min(DIGITS)
_LINE = re.compile(r"(?P<escaped>\\)?(?P<digest>[0-9A-Fa-f]+)(?: [ *]|[ \t]*\t[ \t]*\*?| )(?P<name>.+)")
_TAGGED = re.compile(
    r"(?P<escaped>\\)?(?P<algorithm>[A-Za-z][\w/-]*)(?P<gap> ?)\((?P<name>.*)\)(?P<equals> ?= ?)(?P<digest>\S*)"
)
_BARE = re.compile(r"[0-9A-Fa-f]+")
_ESCAPES = {"\\": "\\", "n": "\n", "r": "\r"}
_ESCAPED = re.compile(r"\\(.?)", re.S)
_LEAST_DIGEST = 24
"""A line that begins with so many hex digits, alone or before a name, was meant as an entry."""
_MOST_FAULTS = 50
_SIGNED, _SIGNATURE = "-----BEGIN PGP SIGNED MESSAGE-----", BEGIN.decode()
_END = END.decode()
_DASH = "- "
"""RFC 9580, 7.2: a line that begins with a dash is signed with these two signs before it."""


@dataclass(slots=True)
class _List:
    """What has been read of a list. `bad` are lines meant as entries: number, place in the text, reason.

    `signed`: a text signed in the clear has begun. `outside` counts lines before it and behind its signature.
    """

    entries: list[ListEntry] = field(default_factory=list)
    bad: list[tuple[int, int, str]] = field(default_factory=list)
    other: int = 0
    prose: int = 0
    signed: bool = False
    outside: int = 0
    bare: list[str] = field(default_factory=list)


def looks_like(view: View) -> Looks:
    """MAYBE where the first kilobytes hold something like a digest and no zero byte outside UTF-16."""
    head = view.at(0, HEAD_BYTES)
    marked = head.startswith(MARK_BYTES)
    if not marked and b"\0" in head:
        return Looks.NO
    classes = head.translate(_CLASSES)
    if _RUN in classes or (marked and (_RUN in classes[::2] or _RUN in classes[1::2])):
        return Looks.MAYBE
    return Looks.NO


def read(view: View) -> Reading | None:
    """The checksum list that fills `view`; None where it is something else, prose with a digest in it included."""
    if looks_like(view) is Looks.NO:
        return None
    text, encoding, mark = _decode(view.at(0, MAX_LIST_BYTES))
    found = _List()
    _walk(text, found)
    known = len(found.entries) + found.other
    if not found.entries or found.prose > max(known // 10, 1 if known > 1 else 0):
        return None
    if len(found.bare) != len(set(found.bare)) or len(found.bad) > len(found.entries) + 1:
        return None
    return _reading(view, found, text, encoding, mark)


def signed_entries(text: bytes) -> tuple[ListEntry, ...]:
    """The entries of a text that a signature in the clear covers, as `read` gives them but for the numbers of lines."""
    found = _List(signed=True)
    decoded = text.decode("utf-8", "surrogateescape")
    for number, line in enumerate(decoded.split("\n" if "\n" in decoded else "\r"), 1):
        shown = line.rstrip("\r")
        if shown.strip(" \t\x1a"):
            _line(shown, number, 0, found)
    return tuple(found.entries)


def signature_packets(data: bytes) -> list[SignaturePacket]:
    """The signatures behind a text that is signed in the clear; none where they are damaged."""
    at = data.find(b"\n" + BEGIN)
    try:
        return list(packets(unarmour(data[at + 1 :]).packets))[:MAX_SIGNATURES] if at >= 0 else []
    except (DamagedError, IndexError):
        return []


def _decode(data: bytes) -> tuple[str, str, int]:
    """The text with every byte of a name kept: other bytes than UTF-8 stand as surrogate escapes."""
    for mark, encoding in MARKS:
        if data.startswith(mark):
            errors = "surrogateescape" if encoding == "utf-8" else "replace"
            return data[len(mark) :].decode(encoding, errors), encoding, len(mark)
    return data.decode("utf-8", "surrogateescape"), "utf-8", 0


def _walk(text: str, found: _List) -> None:
    at = lines = 0
    armour = signature = False
    for number, line in enumerate(text.split("\n" if "\n" in text else "\r"), 1):
        start, at = at, at + len(line) + 1
        shown = line.rstrip("\r")
        if shown == _SIGNED and not found.signed:
            found.entries, found.bad, found.bare, found.other, found.prose = [], [], [], 0, 0
            found.signed, found.outside, armour = True, lines, True
        elif signature:
            found.outside += bool(shown.strip(" \t\x1a")) and not armour
            armour = armour and shown != _END
        elif armour and shown:
            continue
        elif found.signed and shown == _SIGNATURE:
            armour = signature = True
        elif shown.strip(" \t\x1a"):
            lines += 1
            _line(shown[len(_DASH) :] if found.signed and shown.startswith(_DASH) else shown, number, start, found)
        else:
            armour = False
        if len(found.entries) >= MAX_LIST_ENTRIES and not found.signed:
            return


def _line(line: str, number: int, start: int, found: _List) -> None:
    if line[0] in "#;" or len(found.entries) >= MAX_LIST_ENTRIES:
        return
    tagged = _TAGGED.fullmatch(line) if "(" in line and "=" in line else None
    if tagged is not None:
        _tagged(tagged, number, start, found)
        return
    digest = line.strip(" \t")
    if len(digest) >= _LEAST_DIGEST and digest.isalnum() and _BARE.fullmatch(digest):
        algorithm = DIGITS.get(len(digest))
        if algorithm is None:
            found.bad.append((number, start, f"{len(digest)} hex digits are no digest's length"))
        else:
            found.bare.append(algorithm)
            found.entries.append(ListEntry(algorithm, digest.lower(), "", number))
        return
    plain = _LINE.fullmatch(line)
    if plain is not None and len(plain["digest"]) >= _LEAST_DIGEST:
        _entry(DIGITS.get(len(plain["digest"])), plain, number, start, found)
    else:
        found.prose += 1


def _tagged(match: re.Match[str], number: int, start: int, found: _List) -> None:
    """`ALGO (name) = digest` (BSD, coreutils --tag) or `ALGO(name)= digest` (OpenSSL)."""
    spelt = match["algorithm"]
    algorithm = _algorithm(spelt)
    if algorithm is not None:
        _entry(algorithm, match, number, start, found)
    elif _OTHERS.fullmatch(spelt):
        found.other += 1
    else:
        found.prose += 1


def _algorithm(spelt: str) -> str | None:
    """sha256 for SHA256, sha-256, SHA2-256 (OpenSSL 3); None for any that is not read here."""
    name = spelt.lower().replace("_", "-")
    name = name.replace("sha2-", "sha").replace("-", "")
    return name if name in _LENGTHS and not _OTHERS.fullmatch(spelt) else None


def _entry(algorithm: str | None, match: re.Match[str], number: int, start: int, found: _List) -> None:
    digest, name = match["digest"], match["name"]
    if algorithm is None or len(digest) != _LENGTHS[algorithm] or not _BARE.fullmatch(digest):
        found.bad.append((number, start, f"{digest[:140]!r} is no {algorithm or 'known'} digest"))
        return
    unescaped = _unescape(name) if match["escaped"] else name
    if unescaped is None:
        found.bad.append((number, start, "its name holds an escape that no tool writes"))
        return
    found.entries.append(ListEntry(algorithm, digest.lower(), unescaped[:MAX_TEXT], number))


def _unescape(name: str) -> str | None:
    """The name of a line that begins with a backslash; None where a backslash in it stands before another sign."""
    if any(sign not in _ESCAPES for sign in _ESCAPED.findall(name)):
        return None
    return _ESCAPED.sub(lambda match: _ESCAPES[match[1]], name)


def _reading(view: View, found: _List, text: str, encoding: str, mark: int) -> Reading:
    algorithms = tuple(sorted({one.algorithm for one in found.entries}))
    count = len(found.entries)
    faults = [
        Fault("list-line", f"Line {number}: {why}.", mark + len(text[:start].encode(encoding, _errors(encoding))))
        for number, start, why in found.bad[:_MOST_FAULTS]
    ]
    if len(found.bad) > _MOST_FAULTS:
        faults.append(Fault("list-line", f"{len(found.bad) - _MOST_FAULTS} more lines like these."))
    if count >= MAX_LIST_ENTRIES or view.size > MAX_LIST_BYTES:
        faults.append(
            Fault("list-too-long", f"The list is too long to be read whole; its first {count} entries count.")
        )
    notes: list[Fault] = []
    if found.other:
        notes.append(Fault("list-odd", f"Entries by algorithms that are not read here: {found.other}."))
    if found.prose:
        notes.append(Fault("list-odd", f"Lines that are no entries: {found.prose}."))
    if found.outside:
        notes.append(Fault("list-odd", f"Lines outside the signed text, which count for nothing: {found.outside}."))
    signatures = signature_packets(view.at(0, MAX_LIST_BYTES)) if found.signed else []
    parts = tuple(part_of(one, armoured=True) for one in signatures)
    if found.signed and not parts:
        faults.append(Fault("signature-damaged", "The signature around the text cannot be read."))
    return Reading(
        format="checksum-list",
        kind="checksum-list",
        title=f"Checksum list, {count} {'entry' if count == 1 else 'entries'} ({', '.join(algorithms)})",
        length=view.size,
        fields=(
            Field("algorithms", algorithms, None, 0, "Digests it lists"),
            Field("entries", count, None, 0, "Entries that were read"),
            Field("encoding", encoding, 0, mark, "How its bytes stand for signs"),
            Field("signed_text", found.signed, None, 0, "Whether a signature is wrapped round it"),
        ),
        parts=parts,
        faults=tuple(faults),
        notes=tuple(notes),
        entries=tuple(found.entries),
    )


def _errors(encoding: str) -> str:
    return "surrogateescape" if encoding == "utf-8" else "replace"


READER = Reader(
    name="checksum-list",
    kinds=("checksum-list",),
    looks_like=looks_like,
    read=read,
    version=2,
    text=True,
    alone=True,
    source="GNU coreutils manual; OpenSSL manual, openssl-dgst; RFC 9580, section 7",
    depth="every entry: MD5, SHA-1, SHA-224, SHA-256, SHA-384, SHA-512, in the spellings of "
    "coreutils, BSD and OpenSSL; the signatures of lists signed in the clear",
)
