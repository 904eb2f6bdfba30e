"""Detached OpenPGP signatures, binary or armoured: who is said to have signed, when and how.

RFC 9580: 4.2 (packet headers), 5.2 (signature packets of versions 3, 4 and 6), 6 (armour), 9 (algorithms). What is read
is what the signature says of itself; whether it holds is asked of keys that a person recorded (`signing_keys`).
"""

from __future__ import annotations

from datetime import UTC, datetime

from catalogue.formats.limits import MAX_DETACHED_BYTES, MAX_SIGNATURES
from catalogue.formats.openpgp_armour import BEGIN, Armour, unarmour
from catalogue.formats.openpgp_packets import HASHES, KEYS, TAG, DamagedError, SignaturePacket, header, packets
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, FieldValue, Reading, Span

SOURCE = "RFC 9580, section 5.2"
NAME, KIND = "openpgp-signature", "signature/openpgp"
TYPES = {0x00: "of the file's bytes", 0x01: "of the file as text", 0x02: "of nothing but itself", 0x40: "time stamp"}
"""RFC 9580, 5.2.1: the types that stand beside a file; the others certify keys."""


def looks_like(view: View) -> Looks:
    """SURE where armour names a signature; MAYBE where the first bytes are a signature packet's header."""
    head = view.at(0, 64)
    if head.startswith(BEGIN):
        return Looks.SURE
    if len(head) < 8 or view.size > MAX_DETACHED_BYTES:
        return Looks.NO
    try:
        tag, body, end = header(head, 0)
    except DamagedError:
        return Looks.NO
    fits = tag == TAG and end <= view.size and head[body : body + 1] in (b"\3", b"\4", b"\6")
    return Looks.MAYBE if fits else Looks.NO


def read(view: View) -> Reading | None:
    """The signatures that fill `view`; None where it is something else."""
    looks = looks_like(view)
    if looks is Looks.NO:
        return None
    data = view.at(0, MAX_DETACHED_BYTES)
    armour = unarmour(data) if looks is Looks.SURE else None
    inside = data if armour is None else armour.packets
    try:
        found = list(packets(inside))
    except (DamagedError, IndexError) as error:
        return None if armour is None else _damaged(view, armour, str(error) or "a packet is cut short")
    if not found or (armour is None and any(one.type not in TYPES for one in found)):
        return None if armour is None else _damaged(view, armour, "it holds no signature packet")
    parts = tuple(part_of(one, armour is not None) for one in found[:MAX_SIGNATURES])
    notes = list(armour.notes if armour is not None else ())
    if len(found) > MAX_SIGNATURES:
        notes.append(Fault("too-many", f"Of {len(found)} signatures {MAX_SIGNATURES} are shown."))
    who = ", ".join(dict.fromkeys(who_of(one) for one in found[:4]))
    return Reading(
        NAME,
        KIND,
        f"OpenPGP signature by {who}",
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


def who_of(one: SignaturePacket) -> str:
    """Whose key a signature names, in words."""
    key = one.fingerprint or one.key_id
    return f"key {key.upper()}" if key else "a key it does not name"


def part_of(one: SignaturePacket, armoured: bool) -> Reading:
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
    add("signature_valid", None, "Whether it holds; no key is asked here")
    note = Fault("signature-unchecked", "Whether it holds is for a recorded key to say, not for this file.", at)
    start, size = (0, 0) if at is None else (one.start, length)
    return Reading(
        NAME,
        KIND,
        f"Signature by {who_of(one)}",
        start,
        size,
        tuple(fields),
        notes=(note,),
        spans=() if at is None else (Span("signature", start, size),),
    )


def _time(seconds: int | None) -> str | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC).isoformat()


READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=2,
    source="RFC 9580, sections 4.2, 5.2 and 6",
    depth="detached signatures, binary or armoured: key id and fingerprint, time, algorithms; verified by keys "
    "that a person recorded",
    first=(b"----", b"\x88", b"\x89", b"\x8a", b"\xc2"),
)
