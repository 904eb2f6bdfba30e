"""What one signer of signed data proves: that a key signed this content, and when a time stamper saw the signature.

RFC 5652, sections 5.4 to 5.6 and 11.4 (countersignature); RFC 3161, section 2.4.2 (time-stamp token). Whose key it is
and whether anybody should trust it is not asked here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from catalogue.formats.certificates import Certificate, Proofs, certificate_of, proved, read_certificate
from catalogue.formats.der import OCTET_STRING, SEQUENCE, DerError, Node, node_at
from catalogue.formats.image_digest import ALGORITHMS
from catalogue.formats.signed_data import (
    CONTENT_TYPE,
    COUNTER_SIGNATURE,
    MESSAGE_DIGEST,
    SIGNING_TIME,
    SignedData,
    Signer,
    digest_name,
    first_value,
    read_signed_data,
    read_signer,
)

TOKEN = "1.2.840.113549.1.9.16.1.4"  # noqa: S105 (the content type of a time-stamp token)
"""RFC 3161, section 2.4.2: id-ct-TSTInfo."""
TOKEN_ATTRIBUTES = ("1.3.6.1.4.1.311.3.3.1", "1.2.840.113549.1.9.16.2.14")
"""Where a token hangs on a signature: Microsoft's attribute, and that of RFC 3161, appendix A."""


@dataclass(frozen=True, slots=True)
class Proof:
    """Whether a signer signed the content, None where it cannot be checked; `why` says what fails or hinders."""

    holds: bool | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Timestamp:
    """When somebody other than the signer saw the signature, by their own statement; `by` is their certificate."""

    time: datetime | None
    by: Certificate | None
    proof: Proof
    node: Node


def signs(signer: Signer, content: Node, content_type: str | None, by: Certificate | None, proofs: Proofs) -> Proof:
    """Whether the signer signed the contents octets of `content` with the key of `by`.

    `content_type` is what its signed attribute of that name must say, None where it need not be there. Raises DerError.
    """
    if by is None:
        return Proof(None, "The signer's certificate is not among those that came with the signature.")
    signed = content.content
    if signer.signed:
        stated = signer.first(MESSAGE_DIGEST)
        if signer.digest not in ALGORITHMS:
            return Proof(None, f"The digest algorithm {signer.digest} is not known.")
        if stated is None or stated.wants(OCTET_STRING, "a message digest").content != digest_of(signed, signer.digest):
            return Proof(False, "The signer signed another content than the one that stands here.")
        if content_type is not None:
            kind = signer.first(CONTENT_TYPE)
            if kind is None or kind.oid() != content_type:
                return Proof(False, "The signer signed another type of content than the one that stands here.")
        signed = signer.signed
    holds = proved(signer, by, signed, proofs)
    if holds is None:
        return Proof(None, "The signature's algorithm or key is not one that can be checked.")
    return Proof(holds, "" if holds else "The key of the signer's certificate did not make this signature.")


def digest_of(data: bytes, name: str) -> bytes:
    """The digest by one of ALGORITHMS."""
    return hashlib.new(name, data, usedforsecurity=False).digest()


def certificates_in(signed: SignedData) -> tuple[Certificate, ...]:
    """The certificates that can be read of those that came with the signature."""
    return tuple(one for one in map(read_certificate, signed.certificates) if one is not None)


def timestamp_of(signer: Signer, among: tuple[Certificate, ...], proofs: Proofs) -> Timestamp | None:
    """The time stamp that hangs on a signer's signature, None where none does. Raises DerError."""
    attributes = signer.unsigned_attributes
    counter = first_value(attributes, COUNTER_SIGNATURE)
    if counter is not None:
        return _countersigned(signer, read_signer(counter), among, proofs)
    token = next((attributes[name] for name in TOKEN_ATTRIBUTES if name in attributes), None)
    return _token(signer, token.children()[0], proofs) if token is not None and token.children() else None


def _countersigned(signer: Signer, counter: Signer, among: tuple[Certificate, ...], proofs: Proofs) -> Timestamp:
    by = certificate_of(counter, among)
    time = counter.first(SIGNING_TIME)
    proof = signs(counter, signer.signature, None, by, proofs)
    return Timestamp(time.time() if time is not None else None, by, proof, counter.node)


def _token(signer: Signer, node: Node, proofs: Proofs) -> Timestamp:
    token = read_signed_data(node.data, node.start, node.end)
    if token.content_type != TOKEN or token.content is None or not token.signers:
        raise DerError("a time stamp that is no time-stamp token", node.start)
    content = token.content.wants(OCTET_STRING, "a time-stamp token")
    stated = node_at(content.data, content.body, content.end).parts(SEQUENCE, "a time-stamp token", 5)
    imprint = stated[2].parts(SEQUENCE, "a message imprint", 2)
    name, digest = digest_name(imprint[0]), imprint[1].content
    by = certificate_of(token.signers[0], certificates_in(token))
    proof = signs(token.signers[0], content, TOKEN, by, proofs)
    if name not in ALGORITHMS:
        proof = Proof(None, f"The digest algorithm {name} is not known.")
    elif digest != digest_of(signer.signature.content, name):
        proof = Proof(False, "The time stamp is of another signature.")
    return Timestamp(stated[4].time(), by, proof, node)


def times_of(signer: Signer) -> Mapping[str, datetime]:
    """The times a signer states of itself, by name; a damaged one is left out."""
    try:
        own = signer.first(SIGNING_TIME)
        return {"signing_time": own.time()} if own is not None else {}
    except DerError:
        return {}
