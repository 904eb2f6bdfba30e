"""The signatures of a PE image: who signed it, under which authority, and whether they signed these very bytes.

Microsoft PE Format, "The Attribute Certificate Table"; Microsoft, "Windows Authenticode Portable Executable Signature
Format" (2008). A reading says what the file proves by itself: that the key of a certificate made the signature, and
which certificates vouch for that one as far as they came along. Whether an authority is to be trusted is for those who
know which they trust, and whether a time has passed for those who have a clock.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from catalogue.formats.certificate_table import Entry, read_table
from catalogue.formats.certificates import Proofs
from catalogue.formats.der import DerError, Node
from catalogue.formats.image_digest import Outline, image_digests
from catalogue.formats.limits import MAX_SIGNATURE_BYTES, MAX_SIGNATURES
from catalogue.formats.signature_part import (
    FORMAT,
    KIND,
    SOURCE,
    Signature,
    entry_fields,
    read_signature,
    signer_part,
)
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, SignedBy


@dataclass(slots=True)
class Signatures:
    """What a certificate table says: a part a signer or unread entry, and fields, faults and notes of the image."""

    parts: list[Reading] = field(default_factory=list)
    fields: list[Field] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)


def read_signatures(view: View, outline: Outline) -> Signatures:
    """The signatures in the certificate table of an image. Raises nothing but the view's own OSError."""
    answer = Signatures()
    start, end = outline.table
    data = view.at(start, min(end - start, MAX_SIGNATURE_BYTES))
    table = read_table(data)
    if end - start > MAX_SIGNATURE_BYTES:
        answer.notes.append(
            Fault("too-many", f"Of the certificate table {MAX_SIGNATURE_BYTES} bytes were read.", start)
        )
    elif table.damage:
        answer.faults.append(Fault("signature-damaged", table.damage, start + table.at))
    if start < outline.headers_size or any(one.size and start < one.end for one in outline.sections):
        answer.faults.append(Fault("signature-damaged", "The certificate table lies inside the image.", start))
    signatures: list[Signature] = []
    for entry in table.entries:
        if entry.is_pkcs7:
            _signatures(data, start, entry, signatures, answer)
        else:
            answer.parts.append(_unread(start, entry, "signature-unread", "An entry of this type is not read.", True))
    if table.more or len(signatures) + len(answer.parts) >= MAX_SIGNATURES:
        answer.notes.append(Fault("too-many", f"At most {MAX_SIGNATURES} signatures are read.", start))
    digests = image_digests(view, outline, sorted({one.digest for one in signatures}))
    matches: list[bool | None] = []
    signed_by: list[SignedBy] = []
    proofs = Proofs()
    for one in signatures:
        for number in range(len(one.signed.signers)):
            made = signer_part(one, number, digests.get(one.digest), proofs)
            answer.parts.append(made.part)
            matches.append(made.matches)
            signed_by += made.signed_by
    length = end - start
    answer.fields += (
        Field("signature_count", len(matches), None, 0, "Signatures of the image that were read", SOURCE),
        Field(
            "digest_matches",
            None if not matches or None in matches else all(matches),
            None,
            0,
            "Whether the signed digests are those of the image's bytes",
            SOURCE,
        ),
        Field("signed_by", tuple(signed_by), start, length, "Whose keys made the signatures", SOURCE),
    )
    return answer


def _signatures(data: bytes, base: int, entry: Entry, found: list[Signature], answer: Signatures) -> None:
    """Add the signature of one entry and those nested in it; what cannot be read becomes a part of its own."""
    waiting: list[tuple[int, int, bool]] = [(entry.body, entry.end, False)]
    while waiting and len(found) + len(answer.parts) < MAX_SIGNATURES:
        at, end, nested = waiting.pop(0)
        try:
            one = read_signature(data, base, entry, at, end, nested=nested)
            found.append(one)
            waiting += [(node.start, node.end, True) for node in _nested(one)]
        except DerError as error:
            text = f"The signature cannot be read: {error}."
            part = _unread(base, entry, "signature-damaged", text, False)
            answer.parts.append(replace(part, faults=(replace(part.faults[0], offset=base + error.at),)))


def _nested(one: Signature) -> list[Node]:
    """Where further signatures hang on this one. Raises DerError."""
    return [
        node
        for signer in one.signed.signers
        for name, held in signer.unsigned_attributes.items()
        if name == NESTED
        for node in held.children()
    ]


NESTED = "1.3.6.1.4.1.311.2.4.1"
"""Microsoft, SPC_NESTED_SIGNATURE (wintrust.h)."""


def _unread(base: int, entry: Entry, code: str, text: str, note: bool) -> Reading:
    fault = (Fault(code, text, base + entry.start),)
    return Reading(
        FORMAT,
        KIND,
        "Signature that is not read",
        base + entry.start,
        entry.end - entry.start,
        entry_fields(base, entry),
        faults=() if note else fault,
        notes=fault if note else (),
    )
