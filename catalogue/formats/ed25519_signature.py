"""Detached Ed25519 signatures in the two-line and four-line text form that minisign and OpenBSD's signify write.

minisign's published signature format, and signify(1): a comment that nothing covers, then base64 of the algorithm (two
letters), the key's id (8 bytes) and the signature (64; RFC 8032, section 5.1.6); minisign adds a comment that a second
signature covers. What is read is what the file says of itself;
whether it holds is asked of keys that a person recorded (`signing_keys`).
"""

from __future__ import annotations

import base64
import binascii

from catalogue.formats.limits import MAX_TEXT
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

NAME, KIND = "ed25519-signature", "signature/ed25519"
SOURCE = "minisign, Signature format"
UNTRUSTED, TRUSTED = b"untrusted comment:", b"trusted comment:"
ALGORITHMS = {b"Ed": "Ed25519 of the file's bytes", b"ED": "Ed25519 of the file's BLAKE2b-512 digest"}
SIGNATURE_BYTES, SECOND_BYTES = 2 + 8 + 64, 64
_MAX_BYTES = 4 * MAX_TEXT


def looks_like(view: View) -> Looks:
    """MAYBE where the first line is the comment; a public key begins with it too."""
    return Looks.MAYBE if view.at(0, len(UNTRUSTED)) == UNTRUSTED else Looks.NO


def read(view: View) -> Reading | None:
    """The signature that fills `view`; None where it is something else, a public key for one."""
    if looks_like(view) is Looks.NO:
        return None
    data = view.at(0, _MAX_BYTES)
    lines = lines_of(data)
    raw = decoded(lines[1][1]) if len(lines) > 1 else b""
    if len(raw) != SIGNATURE_BYTES or raw[:2] not in ALGORITHMS:
        return None
    at, line = lines[1]
    key = f"{int.from_bytes(raw[2:10], 'little'):016X}"
    notes = [Fault("signature-unchecked", "Whether it holds is for a recorded key to say, not for this file.", at)]
    fields = [
        _field("algorithm", ALGORITHMS[raw[:2]], at, line, "What was signed, and how"),
        _field("key_id", key, at, line, "Which key is said to have signed"),
        Field("signature_valid", None, None, 0, "Whether it holds; no key is asked here", SOURCE),
        _field("untrusted_comment", _text(lines[0][1], UNTRUSTED), *lines[0], "A comment that no signature covers"),
    ]
    spans = [Span("signature", at, len(line))]
    if len(lines) > 3 and lines[2][1].startswith(TRUSTED) and len(decoded(lines[3][1])) == SECOND_BYTES:
        comment = _text(lines[2][1], TRUSTED)
        fields.append(_field("trusted_comment", comment, *lines[2], "A comment that the second signature covers"))
        spans.append(Span("signature of the comment", lines[3][0], len(lines[3][1])))
        lines = lines[4:]
    else:
        lines = lines[2:]
    behind = next((where for where, text in lines if text.strip()), None)
    if behind is not None or view.size > _MAX_BYTES:
        where = _MAX_BYTES if behind is None else behind
        notes.append(Fault("data-after-end", "Text stands behind the signature.", where))
    return Reading(
        NAME,
        KIND,
        f"Ed25519 signature by key {key}",
        length=view.size,
        fields=tuple(fields),
        notes=tuple(notes),
        spans=tuple(spans),
    )


def lines_of(data: bytes) -> list[tuple[int, bytes]]:
    """Each line with the offset it starts at, its end left out."""
    found, at = [], 0
    for line in data.split(b"\n"):
        found.append((at, line.removesuffix(b"\r")))
        at += len(line) + 1
    return found


def decoded(line: bytes) -> bytes:
    """The bytes of a line of base64, none where it is something else."""
    try:
        return base64.b64decode(line, validate=True)
    except (binascii.Error, ValueError):
        return b""


def _text(line: bytes, mark: bytes) -> str:
    return line[len(mark) :].strip().decode("utf-8", "replace")[:MAX_TEXT]


def _field(name: str, value: str, at: int, line: bytes, meaning: str) -> Field:
    return Field(name, value, at, len(line), meaning, SOURCE)


READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=2,
    source="minisign, Signature format; RFC 8032, 5.1.6",
    depth="detached signatures in text form: key id, algorithm, comments; verified by keys that a person recorded",
    first=(b"untr",),
    text=True,
    alone=True,
)
