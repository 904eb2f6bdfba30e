"""One signature of a PE image as a reading: its digest, its signer, the signer's chain and its time stamp.

Microsoft, "Windows Authenticode Portable Executable Signature Format" (2008): SpcIndirectDataContent holds the digest
of the image; RFC 2315 and RFC 5652 what is around it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from catalogue.formats.certificate_table import REVISIONS, TYPES, Entry
from catalogue.formats.certificates import Certificate, Chain, Proofs, algorithm_text, certificate_of, chain_of
from catalogue.formats.der import OCTET_STRING, SEQUENCE, DerError, Node
from catalogue.formats.image_digest import ALGORITHMS
from catalogue.formats.signed_data import SignedData, Signer, digest_name, read_signed_data
from catalogue.formats.signer_proof import certificates_in, signs, times_of, timestamp_of
from catalogue.shapes.reading import Fault, Field, FieldValue, Reading, SignedBy, Span

FORMAT, KIND = "authenticode", "signature/authenticode"
SOURCE = "Microsoft PE Format, The Attribute Certificate Table"
SPC_INDIRECT_DATA = "1.3.6.1.4.1.311.2.1.4"
_AUTHENTICODE, _CMS, _X509 = "Authenticode PE format, 2008", "RFC 5652, section 5.3", "RFC 5280, section 4.1"


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature as it stands: the entry it lies in, its signed data, the digest it names (and where).

    `base` is added to every offset: where the table begins in the image.
    """

    base: int
    entry: Entry
    signed: SignedData
    content: Node
    digest: str
    value: Node
    among: tuple[Certificate, ...]
    nested: bool
    end: int


@dataclass(frozen=True, slots=True)
class SignerPart:
    """One signer: the reading, whether the image's digest is the signed one, and who it proves to have signed."""

    part: Reading
    matches: bool | None
    signed_by: tuple[SignedBy, ...]


@dataclass(slots=True)
class Draft:
    """The reading of a signature under way; `base` is added to the offsets of values."""

    base: int
    fields: list[Field] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)

    def add(self, name: str, value: FieldValue, meaning: str, source: str, node: Node | None = None) -> None:
        """One more field, at `node` where it stands in the file."""
        at = None if node is None else self.base + node.start
        self.fields.append(Field(name, value, at, 0 if node is None else node.end - node.start, meaning, source))


def entry_fields(base: int, entry: Entry) -> tuple[Field, ...]:
    """The header of one entry of the certificate table."""
    at = base + entry.start
    revision, kind = REVISIONS.get(entry.revision, "unknown"), TYPES.get(entry.type, "unknown")
    return (
        Field("entry_length", entry.end - entry.start, at, 4, "Bytes of this entry, its header included", SOURCE),
        Field("entry_revision", entry.revision, at + 4, 2, f"Revision of the entry: {revision}", SOURCE),
        Field("entry_type", entry.type, at + 6, 2, f"What the entry holds: {kind}", SOURCE),
    )


def read_signature(data: bytes, base: int, entry: Entry, at: int, end: int, *, nested: bool) -> Signature:
    """The signature of an image that begins at `at` of the table's bytes. Raises DerError."""
    signed = read_signed_data(data, at, end)
    if signed.content_type != SPC_INDIRECT_DATA or signed.content is None:
        raise DerError(f"it signs content of type {signed.content_type}, which is no image's digest", at)
    if not signed.signers:
        raise DerError("it has no signer", at)
    info = signed.content.parts(SEQUENCE, "the digest of the image", 2)[1].parts(SEQUENCE, "a digest", 2)
    value = info[1].wants(OCTET_STRING, "a digest")
    among = certificates_in(signed)
    return Signature(base, entry, signed, signed.content, digest_name(info[0]), value, among, nested, end)


def signer_part(one: Signature, number: int, image: str | None, proofs: Proofs) -> SignerPart:
    """The reading of one of a signature's signers; `image` is the digest of the image's bytes, None if not known."""
    signer, among = one.signed.signers[number], one.among
    draft = Draft(one.base, list(entry_fields(one.base, one.entry)))
    draft.add("nested", one.nested, "Whether it hangs on another signature", _AUTHENTICODE)
    matches = _digest(draft, one, image)
    by = certificate_of(signer, among)
    holds = add_proof(draft, signer, one.content, SPC_INDIRECT_DATA, by, proofs)
    signed_by: tuple[SignedBy, ...] = ()
    title = "Signature without its signer's certificate"
    if by is not None:
        chain = chain_of(by, among, proofs)
        add_chain(draft, chain)
        title = f"Signature by {by.subject_name}, issued by {by.issuer_name}"
        if holds and not (chain.broken and len(chain.links) == 1):
            signed_by = (SignedBy(by.subject_name, by.issuer_name, by.last_day),)
    for name, time in times_of(signer).items():
        draft.add(name, time.isoformat(), "When it was signed, as the signer says", _CMS)
    add_timestamp(draft, one.among, signer, by, proofs)
    _around(draft, one, len(among))
    if holds is False or matches is False:
        title += ", broken"
    start, length = one.base + one.entry.start, one.entry.end - one.entry.start
    if one.nested:
        start, length = one.base + signer.node.start, signer.node.end - signer.node.start
    return SignerPart(
        Reading(
            FORMAT,
            KIND,
            title,
            start,
            length,
            tuple(draft.fields),
            faults=tuple(draft.faults),
            notes=tuple(draft.notes),
            spans=(Span("signature", start, length),),
        ),
        matches,
        signed_by,
    )


def _digest(draft: Draft, one: Signature, image: str | None) -> bool | None:
    signed = one.value.content.hex()[:128]
    matches = None if image is None else image == signed
    draft.add("digest_algorithm", one.digest, "How the image's digest is made", _AUTHENTICODE)
    draft.add("signed_digest", signed, "The image's digest that was signed", _AUTHENTICODE, one.value)
    draft.add("image_digest", image, "The image's digest as its bytes give it", _AUTHENTICODE)
    draft.add("digest_matches", matches, "Whether the two are the same", _AUTHENTICODE)
    at = one.base + one.value.start
    if matches is False:
        draft.faults.append(
            Fault("signature-broken", "The image's bytes are not those that were signed: their digests differ.", at)
        )
    elif matches is None:
        why = "The image is too large" if one.digest in ALGORITHMS else f"The algorithm {one.digest} is not known"
        draft.notes.append(Fault("signature-unchecked", f"{why} to compare its digest with the signed one.", at))
    return matches


def add_proof(
    draft: Draft, signer: Signer, content: Node, content_type: str, by: Certificate | None, proofs: Proofs
) -> bool | None:
    """Add whether the signer signed `content`, and answer it; None where it cannot be checked."""
    at = draft.base + signer.node.start
    try:
        proof = signs(signer, content, content_type, by, proofs)
        algorithm = algorithm_text(signer)
    except DerError as error:
        draft.faults.append(Fault("signature-damaged", f"The signer cannot be read: {error}.", draft.base + error.at))
        return None
    draft.add("signature_algorithm", algorithm, "How the signer signs", _CMS, signer.algorithm)
    draft.add("signature_valid", proof.holds, "Whether the key of its certificate made the signature", _CMS)
    if proof.holds is False:
        draft.faults.append(Fault("signature-broken", proof.why, at))
    elif proof.holds is None:
        draft.notes.append(Fault("signature-unchecked", proof.why, at))
    return proof.holds


def add_chain(draft: Draft, chain: Chain) -> None:
    """Add the signer's certificate and its issuers, as far as they came along and are proved."""
    by = chain.links[0]
    node = by.node
    draft.add("subject", by.subject_name, "Whom the signer's certificate names", _X509, node)
    draft.add("issuer", by.issuer_name, "Who issued the signer's certificate", _X509, node)
    draft.add("valid_from", by.first_day, "First day of the signer's certificate (UTC)", _X509, node)
    draft.add("expires", by.last_day, "Last day of the signer's certificate (UTC)", _X509, node)
    draft.add("serial_number", by.serial_number, "Its serial number in hex", _X509, node)
    draft.add("certificate_sha256", by.sha256, "Fingerprint of the signer's certificate", _X509, node)
    links = chain.links
    said = "from the signer's up, each proved to have signed the one before"
    draft.add("chain_subjects", tuple(one.subject_name for one in links), f"Certificates {said}", _X509)
    draft.add("chain_issuers", tuple(one.issuer_name for one in links), "Who issued each of them", _X509)
    draft.add("chain_expires", tuple(one.last_day for one in links), "Last day of each of them (UTC)", _X509)
    draft.add("chain_sha256", tuple(one.sha256 for one in links), "Fingerprint of each of them", _X509)
    draft.add("chain_to_root", chain.to_root, "Whether the last one is its own issuer", _X509)
    last = links[-1]
    at = draft.base + last.node.start
    if chain.broken:
        text = (
            f"The certificate of {last.subject_name} was not signed by the key of {last.issuer_name} that came along."
        )
        draft.faults.append(Fault("certificate-broken", text, at))
    elif chain.unproved:
        text = f"Whether {last.issuer_name} signed the certificate of {last.subject_name} could not be checked."
        draft.notes.append(Fault("certificate-unchecked", text, at))


def add_timestamp(
    draft: Draft, among: tuple[Certificate, ...], signer: Signer, by: Certificate | None, proofs: Proofs
) -> None:
    """Add when somebody else saw the signature, where they say so."""
    try:
        stamp = timestamp_of(signer, among, proofs)
    except DerError as error:
        text = f"The time stamp cannot be read: {error}."
        draft.notes.append(Fault("timestamp-unread", text, draft.base + error.at))
        return
    if stamp is None:
        return
    time = stamp.time.isoformat() if stamp.time is not None else None
    who = stamp.by.subject_name if stamp.by is not None else None
    draft.add("timestamp", time, "When somebody else saw the signature, as they say (UTC)", "RFC 3161", stamp.node)
    draft.add("timestamp_by", who, "Who saw it", "RFC 3161")
    draft.add("timestamp_valid", stamp.proof.holds, "Whether their key made the time stamp", "RFC 3161")
    at = draft.base + stamp.node.start
    if not stamp.proof.holds:
        draft.notes.append(Fault("timestamp-unproved", f"The time stamp proves nothing. {stamp.proof.why}", at))
        return
    if by is not None and stamp.time is not None:
        _in_time(draft, by, stamp.time, at)


def _in_time(draft: Draft, by: Certificate, time: datetime, at: int) -> None:
    day = time.date().isoformat()
    if not by.first_day <= day <= by.last_day:
        text = f"It was signed on {day}; the signer's certificate holds from {by.first_day} to {by.last_day}."
        draft.notes.append(Fault("signed-out-of-time", text, at))


def _around(draft: Draft, one: Signature, read: int) -> None:
    """How many certificates came along, and what the signature leaves unsaid of its own bytes."""
    held = len(one.signed.certificates)
    draft.add("certificate_count", held, "Certificates that came with the signature", _CMS)
    at = one.base + one.entry.start
    if read < held:
        draft.notes.append(Fault("certificate-unread", f"{held - read} of {held} certificates cannot be read.", at))
    if one.signed.left_out:
        text = f"{one.signed.left_out} certificates or signers of one signature were left out."
        draft.notes.append(Fault("too-many", text, at))
    rest = one.content.data[one.signed.end : one.end]
    if any(rest):
        text = "Bytes that no signature covers stand behind the signed data, inside the certificate table."
        draft.notes.append(Fault("data-in-signature", text, one.base + one.signed.end))
