"""Detached OpenPGP signatures, binary or armoured: who is said to have signed, when and how.

RFC 9580: 4.2 (packet headers), 5.2 (signature packets of versions 3, 4 and 6), 6 (armour), 9 (algorithms). What is read
is what the signature says of itself; whether it holds is asked of a key that a person has recorded, and here none is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime

from catalogue.formats.limits import MAX_DETACHED_BYTES, MAX_SIGNATURES
from catalogue.formats.openpgp_armour import BEGIN, Armour, unarmour
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import printable
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, FieldValue, Reading, Span

SOURCE = "RFC 9580, section 5.2"
NAME, KIND = "openpgp-signature", "signature/openpgp"
TYPES = {0x00: "of the file's bytes", 0x01: "of the file as text", 0x02: "of nothing but itself", 0x40: "time stamp"}
"""RFC 9580, 5.2.1: the types that stand beside a file; the others certify keys."""
KEYS = {1: "RSA", 3: "RSA", 17: "DSA", 19: "ECDSA", 22: "EdDSA (legacy)", 27: "Ed25519", 28: "Ed448"}
"""RFC 9580, 9.1: the algorithms that sign."""
HASHES = {
    1: "md5",
    2: "sha1",
    3: "ripemd160",
    8: "sha256",
    9: "sha384",
    10: "sha512",
    11: "sha224",
    12: "sha3-256",
    14: "sha3-512",
}
"""RFC 9580, 9.5."""
_NUMBERS = {1: 1, 3: 1, 17: 2, 19: 2, 22: 2}
_OCTETS = {27: 64, 28: 114}
"""RFC 9580, 5.2.3.1 to 5.2.3.5: how many numbers, or how many octets, each algorithm's signature is."""
_SALTS = {8: 16, 9: 24, 10: 32, 11: 16, 12: 16, 14: 32}
"""RFC 9580, 9.5: octets of salt of a version 6 signature."""
_TAG = 2
_CREATED, _EXPIRES, _ISSUER, _USER, _FINGERPRINT = 2, 3, 16, 28, 33
"""RFC 9580, 5.2.3.7."""
_FINGERPRINT_BYTES = {b"\4": 20, b"\6": 32}
_MAX_SUBPACKETS = 64


@dataclass(slots=True)
class _Signature:
    """One signature packet. `start` and `end` count in the packets' bytes."""

    start: int
    end: int
    version: int
    type: int
    key: int
    hash: int
    created: int | None = None
    lifetime: int = 0
    key_id: str = ""
    fingerprint: str = ""
    user: str = ""
    unsigned: list[str] = field(default_factory=list)


class _DamagedError(ValueError):
    """The bytes are no signature packet."""


def looks_like(view: View) -> Looks:
    """SURE where armour names a signature; MAYBE where the first bytes are a signature packet's header."""
    head = view.at(0, 64)
    if head.startswith(BEGIN):
        return Looks.SURE
    if len(head) < 8 or view.size > MAX_DETACHED_BYTES:
        return Looks.NO
    try:
        tag, body, end = _header(head, 0)
    except _DamagedError:
        return Looks.NO
    fits = tag == _TAG and end <= view.size and head[body : body + 1] in (b"\3", b"\4", b"\6")
    return Looks.MAYBE if fits else Looks.NO


def read(view: View) -> Reading | None:
    """The signatures that fill `view`; None where it is something else."""
    looks = looks_like(view)
    if looks is Looks.NO:
        return None
    data = view.at(0, MAX_DETACHED_BYTES)
    armour = unarmour(data) if looks is Looks.SURE else None
    packets = data if armour is None else armour.packets
    try:
        found = list(_packets(packets))
    except (_DamagedError, IndexError) as error:
        return None if armour is None else _damaged(view, armour, str(error) or "a packet is cut short")
    if not found or (armour is None and any(one.type not in TYPES for one in found)):
        return None if armour is None else _damaged(view, armour, "it holds no signature packet")
    parts = tuple(_part(one, armour is not None) for one in found[:MAX_SIGNATURES])
    notes = list(armour.notes if armour is not None else ())
    if len(found) > MAX_SIGNATURES:
        notes.append(Fault("too-many", f"Of {len(found)} signatures {MAX_SIGNATURES} are shown."))
    who = ", ".join(dict.fromkeys(_who(one) for one in found[:4]))
    return Reading(
        NAME,
        KIND,
        f"OpenPGP signature by {who}, not verified",
        length=view.size,
        fields=(
            Field("armoured", armour is not None, None, 0, "Whether it is written as text", "RFC 9580, section 6"),
            Field("signature_count", len(found), None, 0, "Signatures in the file", SOURCE),
        ),
        parts=parts,
        notes=tuple(notes),
    )


def _damaged(view: View, armour: Armour, why: str) -> Reading:
    fault = Fault("signature-damaged", f"The signature cannot be read: {why}.")
    return Reading(
        NAME, KIND, "OpenPGP signature that is damaged", length=view.size, faults=(fault,), notes=tuple(armour.notes)
    )


def _who(one: _Signature) -> str:
    key = one.fingerprint or one.key_id
    return f"key {key.upper()}" if key else "a key it does not name"


def _part(one: _Signature, armoured: bool) -> Reading:
    """A signature's own reading. Armoured bytes stand nowhere in the file, so they have no offset."""
    at = None if armoured else one.start
    length = one.end - one.start
    fields: list[Field] = []

    def add(name: str, value: FieldValue, meaning: str) -> None:
        fields.append(Field(name, value, at, 0 if at is None else length, meaning, SOURCE))

    add("version", one.version, "Version of the signature packet")
    add("signature_type", one.type, f"What it signs: {TYPES.get(one.type, 'a key')}")
    add("key_algorithm", KEYS[one.key], "Algorithm of the key")
    add("hash_algorithm", HASHES[one.hash], "Digest that was signed")
    add("issuer_key_id", one.key_id or None, "Which key is said to have signed, the end of its fingerprint")
    add("issuer_fingerprint", one.fingerprint or None, "Which key is said to have signed")
    add("created", _time(one.created), "When it was signed, as the signer says (UTC)")
    if one.lifetime and one.created is not None:
        add("expires", _time(one.created + one.lifetime), "When the signer lets it expire (UTC)")
    if one.user:
        add("signer", one.user, "In whose name it was signed")
    add("unsigned_names", tuple(one.unsigned), "Which of these the signature does not cover")
    add("signature_valid", None, "Whether it holds; no key is known to ask")
    note = Fault("signature-unchecked", "No key is recorded, so whether the signature holds is not known.", at)
    start, size = (0, 0) if at is None else (one.start, length)
    return Reading(
        NAME,
        KIND,
        f"Signature by {_who(one)}",
        start,
        size,
        tuple(fields),
        notes=(note,),
        spans=() if at is None else (Span("signature", start, size),),
    )


def _time(seconds: int | None) -> str | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC).isoformat()


def _packets(data: bytes) -> Iterator[_Signature]:
    """The signature packets that fill `data`. Raises _DamagedError or IndexError."""
    at = 0
    while at < len(data):
        tag, body, end = _header(data, at)
        if end > len(data):
            raise _DamagedError("a packet leads past the end")
        if tag != _TAG:
            raise _DamagedError(f"a packet of type {tag} stands where a signature should")
        yield _signature(data[:end], at, body)
        at = end


def _header(data: bytes, at: int) -> tuple[int, int, int]:
    """A packet's type, where its body starts and where it ends (RFC 9580, 4.2). Raises _DamagedError."""
    first = data[at]
    lead = data[at + 1 : at + 6]
    if not first & 0x80 or len(lead) < 5:
        raise _DamagedError("no packet stands where one should")
    if first & 0x40:
        tag, (width, length) = first & 0x3F, _new_length(lead, 224)
    elif first & 3 == 3:
        raise _DamagedError("a packet of no given length")
    else:
        tag, width = first >> 2 & 0x0F, 1 << (first & 3)
        length = int.from_bytes(lead[:width], "big")
    return tag, at + 1 + width, at + 1 + width + length


def _new_length(lead: bytes, two: int) -> tuple[int, int]:
    """How many octets a length takes, and the length (RFC 9580, 4.2.1 and 5.2.3.7); below `two` it takes at most 2.

    Raises _DamagedError.
    """
    first = lead[0]
    if first < 192:
        return 1, first
    if first < two:
        return 2, (first - 192 << 8) + lead[1] + 192
    if first == 255:
        return 5, int.from_bytes(lead[1:5], "big")
    raise _DamagedError("a packet in pieces")


def _signature(data: bytes, start: int, at: int) -> _Signature:
    """The signature whose body starts at `at` and ends with `data`. Raises _DamagedError or IndexError."""
    version = data[at]
    if version == 3:
        if data[at + 1] != 5:
            raise _DamagedError("a version 3 signature of another form")
        one = _Signature(start, len(data), 3, data[at + 2], data[at + 15], data[at + 16])
        one.created, one.key_id = int.from_bytes(data[at + 3 : at + 7], "big"), data[at + 7 : at + 15].hex()
        at += 17
    elif version in (4, 6):
        one = _Signature(start, len(data), version, data[at + 1], data[at + 2], data[at + 3])
        at += 4
        for signed in (True, False):
            width = 4 if version == 6 else 2
            length = int.from_bytes(data[at : at + width], "big")
            at += width
            if at + length > len(data):
                raise _DamagedError("subpackets lead past the end")
            _subpackets(one, data[at : at + length], signed)
            at += length
    else:
        raise _DamagedError(f"a signature of version {version}")
    if one.key not in KEYS or one.hash not in HASHES:
        raise _DamagedError(f"algorithms {one.key} and {one.hash} are not known")
    at += 2
    if version == 6:
        if data[at] != _SALTS.get(one.hash):
            raise _DamagedError("a salt of the wrong length")
        at += 1 + data[at]
    if _value_end(data, at, one.key) != len(data):
        raise _DamagedError("the signature's numbers do not fill its packet")
    return one


def _value_end(data: bytes, at: int, key: int) -> int:
    """Where the signature's own numbers end. Raises IndexError."""
    for _ in range(_NUMBERS.get(key, 0)):
        bits = data[at] << 8 | data[at + 1]
        at += 2 + (bits + 7) // 8
    return at + _OCTETS.get(key, 0)


def _subpackets(one: _Signature, data: bytes, signed: bool) -> None:
    """Take over what subpackets say; of what stands twice the signed counts. Raises _DamagedError or IndexError."""
    at = count = 0
    while at < len(data):
        width, length = _new_length(data[at : at + 5], 255)
        kind, body = data[at + width] & 0x7F, data[at + width + 1 : at + width + length]
        at += width + length
        count += 1
        if at > len(data) or not length or count > _MAX_SUBPACKETS:
            raise _DamagedError("subpackets that do not add up")
        name = ""
        if kind == _CREATED and len(body) == 4 and one.created is None:
            one.created, name = int.from_bytes(body, "big"), "created"
        elif kind == _EXPIRES and len(body) == 4 and not one.lifetime:
            one.lifetime, name = int.from_bytes(body, "big"), "expires"
        elif kind == _ISSUER and len(body) == 8 and not one.key_id:
            one.key_id, name = body.hex(), "issuer_key_id"
        elif kind == _USER and not one.user:
            one.user, name = _text(body), "signer"
        elif kind == _FINGERPRINT and not one.fingerprint and len(body) - 1 == _FINGERPRINT_BYTES.get(body[:1]):
            one.fingerprint, name = body[1:].hex(), "issuer_fingerprint"
        if name and not signed:
            one.unsigned.append(name)


def _text(raw: bytes) -> str:
    try:
        return raw[:512].decode("utf-8")
    except UnicodeDecodeError:
        return printable(raw[:512])


READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=1,
    source="RFC 9580, sections 4.2, 5.2 and 6",
    depth="detached signatures, binary or armoured: key id and fingerprint, time, algorithms; not verified",
    first=(b"----", b"\x88", b"\x89", b"\x8a", b"\xc2"),
)
