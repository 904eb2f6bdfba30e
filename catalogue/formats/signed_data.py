"""Signed data as PKCS #7 and CMS have it: who signed what with which algorithm, as it stands; nothing is proved here.

RFC 2315 (PKCS #7), section 9; RFC 5652 (CMS), section 5, which differ only in how the signed content is wrapped.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.formats.der import OCTET_STRING, SEQUENCE, SET, DerError, Node, context, node_at
from catalogue.formats.limits import MAX_CERTIFICATES, MAX_SIGNERS

SIGNED_DATA = "1.2.840.113549.1.7.2"
DIGESTS = {
    "1.2.840.113549.2.5": "md5",
    "1.3.14.3.2.26": "sha1",
    "2.16.840.1.101.3.4.2.1": "sha256",
    "2.16.840.1.101.3.4.2.2": "sha384",
    "2.16.840.1.101.3.4.2.3": "sha512",
    "2.16.840.1.101.3.4.2.4": "sha224",
}
"""RFC 8017, appendix B.1; RFC 5754, section 2."""
CONTENT_TYPE, MESSAGE_DIGEST, SIGNING_TIME, COUNTER_SIGNATURE = (f"1.2.840.113549.1.9.{one}" for one in (3, 4, 5, 6))
"""RFC 5652, section 11."""


@dataclass(frozen=True, slots=True)
class Signer:
    """One SignerInfo. `issuer` and `serial` name the certificate as DER values, or `key_id` does (the others empty).

    `signed` are the signed attributes as they are hashed (a SET), b"" where there are none. Attributes are kept by
    their identifier, each with the SET of its values.
    """

    node: Node
    issuer: bytes
    serial: bytes
    key_id: bytes
    digest: str
    algorithm: Node
    signature: Node
    signed: bytes
    signed_attributes: Mapping[str, Node]
    unsigned_attributes: Mapping[str, Node]

    def first(self, name: str) -> Node | None:
        """The first value of a signed attribute, None where it is absent. Raises DerError."""
        return first_value(self.signed_attributes, name)


@dataclass(frozen=True, slots=True)
class SignedData:
    """What is signed (its type, and the value whose contents octets are hashed), certificates and signers as cut out.

    `end` is where the structure ends; `left_out` counts certificates and signers beyond the bounds.
    """

    content_type: str
    content: Node | None
    certificates: tuple[Node, ...]
    signers: tuple[Signer, ...]
    end: int
    left_out: int = 0


def first_value(attributes: Mapping[str, Node], name: str) -> Node | None:
    """The first value of an attribute, None where it is absent. Raises DerError."""
    held = attributes.get(name)
    return held.parts(SET, "an attribute's values", 1)[0] if held is not None else None


def digest_name(algorithm: Node) -> str:
    """The digest an AlgorithmIdentifier names; its dotted identifier where that is not known. Raises DerError."""
    name = algorithm.parts(SEQUENCE, "an algorithm", 1)[0].oid()
    return DIGESTS.get(name, name)


def read_signed_data(data: bytes, at: int, end: int) -> SignedData:
    """The signed data that begins at `at`, with or without the ContentInfo around it. Raises DerError."""
    whole = node_at(data, at, end)
    inside = whole.parts(SEQUENCE, "signed data", 2)
    if inside[0].tag != 0x02:
        if inside[0].oid() != SIGNED_DATA:
            raise DerError(f"content of type {inside[0].oid()}, not signed data", inside[0].start)
        inside = inside[1].parts(context(0), "signed data's wrapper", 1)[0].parts(SEQUENCE, "signed data", 4)
    if len(inside) < 4:
        raise DerError("signed data is cut short", whole.start)
    wrapped = inside[2].parts(SEQUENCE, "the signed content", 1)
    content = wrapped[1].parts(context(0), "the signed content", 1)[0] if len(wrapped) > 1 else None
    held = next((one for one in inside[3:-1] if one.tag == context(0)), None)
    certificates = held.children() if held is not None else ()
    signers = inside[-1].wants(SET, "the signers").children()
    left_out = max(0, len(certificates) - MAX_CERTIFICATES) + max(0, len(signers) - MAX_SIGNERS)
    return SignedData(
        wrapped[0].oid(),
        content,
        certificates[:MAX_CERTIFICATES],
        tuple(read_signer(one) for one in signers[:MAX_SIGNERS]),
        whole.end,
        left_out,
    )


def read_signer(node: Node) -> Signer:
    """One SignerInfo. Raises DerError."""
    inside = list(node.parts(SEQUENCE, "a signer", 5))
    who, digest = inside[1], inside[2]
    issuer = serial = key_id = b""
    if who.tag == SEQUENCE:
        names = who.parts(SEQUENCE, "a signer's certificate", 2)
        issuer, serial = names[0].raw, names[1].raw
    else:
        key_id = who.wants(context(0, constructed=False), "a signer's key identifier").content
    rest = inside[3:]
    signed, attributes = b"", None
    if rest[0].tag == context(0):
        attributes = rest.pop(0)
        # RFC 5652, 5.4: hashed with the tag of a SET in place of [0].
        signed = bytes([SET]) + attributes.raw[1:]
    if len(rest) < 2:
        raise DerError("a signer is cut short", node.start)
    more = next((one for one in rest[2:] if one.tag == context(1)), None)
    return Signer(
        node,
        issuer,
        serial,
        key_id,
        digest_name(digest),
        rest[0].wants(SEQUENCE, "a signature's algorithm"),
        rest[1].wants(OCTET_STRING, "a signature"),
        signed,
        _attributes(attributes),
        _attributes(more),
    )


def _attributes(held: Node | None) -> dict[str, Node]:
    """Attributes by their identifier; RFC 5652, 5.3: none may stand twice, and of two the first is kept."""
    found: dict[str, Node] = {}
    for one in held.children() if held is not None else ():
        name, values = one.parts(SEQUENCE, "an attribute", 2)[:2]
        found.setdefault(name.oid(), values)
    return found
