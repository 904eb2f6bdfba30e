"""The signature before a capsule payload: who signed the image and its count, and whether these are the bytes.

UEFI Specification 23.1 (EFI_FIRMWARE_IMAGE_AUTHENTICATION): PKCS#7 signed data over the image behind it, the monotonic
count appended. RFC 2315, section 9; RFC 5652, section 5. As with programs, the reading says what the bytes prove;
whether an authority is to be trusted is for the firmware that takes the capsule.
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats import inner
from catalogue.formats.certificates import Proofs, certificate_of, chain_of
from catalogue.formats.der import OCTET_STRING, DerError, Node
from catalogue.formats.limits import MAX_PAYLOAD_BYTES, MAX_SIGNATURE_BYTES
from catalogue.formats.signature_part import Draft, add_chain, add_proof, add_timestamp
from catalogue.formats.signed_data import SignedData, Signer, read_signed_data
from catalogue.formats.signer_proof import certificates_in, times_of
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Reading, SignedBy, Span

FORMAT, KIND = "capsule-signature", "signature/capsule"
DATA = "1.2.840.113549.1.7.1"
"""RFC 5652, section 4: the type of content that is nothing but bytes."""
COUNT_BYTES = 8
_CMS = "RFC 5652, section 5.3"


@dataclass(frozen=True, slots=True)
class Where:
    """Where the signed data stands ([start, end)), the count, and the image behind it ([image, stop))."""

    start: int
    end: int
    count: int
    image: int
    stop: int


@dataclass(frozen=True, slots=True)
class PayloadSignatures:
    """A part a signer, and whose keys made the signatures."""

    parts: tuple[Reading, ...]
    signed_by: tuple[SignedBy, ...] = ()


def read_payload_signature(view: View, where: Where, proofs: Proofs) -> PayloadSignatures:
    """The signers of a payload. Raises nothing but the view's own OSError."""
    data = view.at(where.start, min(where.end - where.start, MAX_SIGNATURE_BYTES))
    try:
        signed = read_signed_data(data, 0, len(data))
        if not signed.signers:
            raise DerError("it has no signer", 0)
    except DerError as error:
        fault = Fault("signature-damaged", f"The signature cannot be read: {error}.", where.start + error.at)
        return PayloadSignatures((_reading("Signature that is not read", where, Draft(where.start, faults=[fault])),))
    content = _content(view, where)
    made = [_signer(where, signed, one, content, proofs) for one in signed.signers]
    return PayloadSignatures(tuple(part for part, _by in made), tuple(by for _part, held in made for by in held))


def _content(view: View, where: Where) -> Node | None:
    """What was signed: image and count; None where that is too much to be looked at."""
    size = where.stop - where.image
    if size > MAX_PAYLOAD_BYTES or not inner.allowed(size):
        return None
    data = view.at(where.image, size) + view.at(where.count, COUNT_BYTES)
    return Node(data, OCTET_STRING, 0, 0, len(data))


def _signer(
    where: Where, signed: SignedData, signer: Signer, content: Node | None, proofs: Proofs
) -> tuple[Reading, tuple[SignedBy, ...]]:
    draft = Draft(where.start)
    among = certificates_in(signed)
    by = certificate_of(signer, among)
    holds: bool | None = None
    signed_by: tuple[SignedBy, ...] = ()
    draft.add("digest_algorithm", signer.digest, "How the digest of image and count is made", _CMS)
    if content is not None:
        holds = add_proof(draft, signer, content, DATA, by, proofs)
    else:
        draft.add("signature_valid", None, "Whether the key of its certificate made the signature", _CMS)
        text = "The payload is too large to compare it with what was signed."
        draft.notes.append(Fault("signature-unchecked", text, where.start))
    title = "Signature without its signer's certificate"
    if by is not None:
        chain = chain_of(by, among, proofs)
        add_chain(draft, chain)
        title = f"Signature by {by.subject_name}, issued by {by.issuer_name}"
        if holds and not (chain.broken and len(chain.links) == 1):
            signed_by = (SignedBy(by.subject_name, by.issuer_name, by.last_day),)
    for name, time in times_of(signer).items():
        draft.add(name, time.isoformat(), "When it was signed, as the signer says", _CMS)
    add_timestamp(draft, among, signer, by, proofs)
    draft.add("certificate_count", len(signed.certificates), "Certificates that came with the signature", _CMS)
    if signed.left_out:
        text = f"{signed.left_out} certificates or signers of one signature were left out."
        draft.notes.append(Fault("too-many", text, where.start))
    if signed.content is not None:
        text = "A content of its own stands inside the signature; the image behind it is what was compared."
        draft.notes.append(Fault("data-in-signature", text, where.start + signed.content.start))
    return _reading(title + (", broken" if holds is False else ""), where, draft), signed_by


def _reading(title: str, where: Where, draft: Draft) -> Reading:
    length = where.end - where.start
    return Reading(
        FORMAT,
        KIND,
        title,
        where.start,
        length,
        tuple(draft.fields),
        faults=tuple(draft.faults),
        notes=tuple(draft.notes),
        spans=(Span("signature", where.start, length),),
    )
