"""Signed PE images by hand: DER, signed data (RFC 2315, RFC 5652) and time stamps (RFC 3161), with keys of the test.

The same bytes each time: the keys are fixed numbers and ECDSA is done deterministically (RFC 6979).
"""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509.oid import NameOID

from tests.formats.build_pe import MadePe, pe

SPC_INDIRECT, SIGNED, NESTED = "1.3.6.1.4.1.311.2.1.4", "1.2.840.113549.1.7.2", "1.3.6.1.4.1.311.2.4.1"
TOKEN, TOKEN_ATTRIBUTE = "1.2.840.113549.1.9.16.1.4", "1.3.6.1.4.1.311.3.3.1"
DIGEST_OIDS = {
    "md5": "1.2.840.113549.2.5",
    "sha1": "1.3.14.3.2.26",
    "sha256": "2.16.840.1.101.3.4.2.1",
    "sha384": "2.16.840.1.101.3.4.2.2",
    "sha512": "2.16.840.1.101.3.4.2.3",
}
START, STOP = datetime(2020, 1, 1, tzinfo=UTC), datetime(2031, 6, 30, 12, tzinfo=UTC)


def tlv(tag: int, *parts: bytes) -> bytes:
    body = b"".join(parts)
    if len(body) < 0x80:
        return bytes([tag, len(body)]) + body
    size = len(body).to_bytes((len(body).bit_length() + 7) // 8, "big")
    return bytes([tag, 0x80 | len(size)]) + size + body


def oid(text: str) -> bytes:
    numbers = [int(one) for one in text.split(".")]
    body = b""
    for number in (40 * numbers[0] + numbers[1], *numbers[2:]):
        digits = [number & 0x7F]
        while number := number >> 7:
            digits.insert(0, number & 0x7F | 0x80)
        body += bytes(digits)
    return tlv(0x06, body)


def seq(*parts: bytes) -> bytes:
    return tlv(0x30, *parts)


def integer(value: int) -> bytes:
    return tlv(0x02, value.to_bytes(value.bit_length() // 8 + 1, "big"))


def octets(raw: bytes) -> bytes:
    return tlv(0x04, raw)


def algorithm(name: str) -> bytes:
    return seq(oid(name), b"\x05\x00")


def attribute(name: str, *values: bytes) -> bytes:
    return seq(oid(name), tlv(0x31, *values))


@dataclass(frozen=True)
class Who:
    """A name with its key and certificate."""

    name: str
    key: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey
    certificate: x509.Certificate

    @property
    def der(self) -> bytes:
        return self.certificate.public_bytes(Encoding.DER)


def who(
    name: str,
    number: int = 1,
    issuer: Who | None = None,
    key: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey | None = None,
    start: datetime = START,
    stop: datetime = STOP,
) -> Who:
    """Somebody with a P-256 key made of `number` (or `key`), certified by `issuer` or by themselves."""
    key = key or ec.derive_private_key(0x5A17 + number, ec.SECP256R1())
    named = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    by = issuer.key if issuer else key
    made = x509.CertificateBuilder(
        subject_name=named,
        issuer_name=issuer.certificate.subject if issuer else named,
        public_key=key.public_key(),
        serial_number=number,
        not_valid_before=start,
        not_valid_after=stop,
    ).add_extension(x509.SubjectKeyIdentifier(number.to_bytes(4, "big") * 5), critical=False)
    fixed = {"ecdsa_deterministic": True} if isinstance(by, ec.EllipticCurvePrivateKey) else {}
    return Who(name, key, made.sign(by, hashes.SHA256(), **fixed))


ROOT = who("Saltmarsh Root", 1)
AUTHORITY = who("Saltmarsh Authority", 2, ROOT)
SIGNER = who("Corvane Firmware", 3, AUTHORITY)
CHAIN = (SIGNER.der, AUTHORITY.der, ROOT.der)


@dataclass
class Made:
    """How to sign. `certificates` come along; `stamp` makes unsigned attributes of the signature's octets."""

    by: Who = SIGNER
    certificates: tuple[bytes, ...] = CHAIN
    digest: str = "sha256"
    pss: bool = False
    plain: bool = False
    by_key_id: bool = False
    content_type: str = SPC_INDIRECT
    stated_type: str | None = None
    stated_digest: bytes | None = None
    unsigned: list[bytes] = field(default_factory=list)
    stamp: Callable[[bytes], bytes] | None = None
    signed_more: list[bytes] = field(default_factory=list)
    wrapped: bool = True


def signer_info(content: bytes, made: Made, content_type: str | None) -> bytes:
    """SignerInfo over the contents octets `content`."""
    attributes = [attribute("1.2.840.113549.1.9.4", octets(made.stated_digest or _hash(made.digest, content)))]
    if content_type is not None:
        attributes.insert(0, attribute("1.2.840.113549.1.9.3", oid(made.stated_type or content_type)))
    attributes += made.signed_more
    signed = b"" if made.plain else tlv(0x31, *attributes)
    digest = getattr(hashes, made.digest.upper())()
    key = made.by.key
    if isinstance(key, rsa.RSAPrivateKey):
        way = padding.PSS(padding.MGF1(digest), digest.digest_size) if made.pss else padding.PKCS1v15()
        raw = key.sign(signed or content, way, digest)
        name = algorithm("1.2.840.113549.1.1.1")
        if made.pss:
            hashed = algorithm(DIGEST_OIDS[made.digest])
            mask = seq(oid("1.2.840.113549.1.1.8"), hashed)
            salt = tlv(0xA2, integer(digest.digest_size))
            name = seq(oid("1.2.840.113549.1.1.10"), seq(tlv(0xA0, hashed), tlv(0xA1, mask), salt))
    else:
        raw = key.sign(signed or content, ec.ECDSA(digest, deterministic_signing=True))
        name = seq(oid("1.2.840.10045.2.1"))
    named = seq(made.by.certificate.issuer.public_bytes(), integer(made.by.certificate.serial_number))
    if made.by_key_id:
        named = tlv(0x80, made.by.certificate.serial_number.to_bytes(4, "big") * 5)
    unsigned = [*made.unsigned, *([made.stamp(raw)] if made.stamp else [])]
    return seq(
        integer(3 if made.by_key_id else 1),
        named,
        algorithm(DIGEST_OIDS[made.digest]),
        b"" if made.plain else tlv(0xA0, *attributes),
        name,
        octets(raw),
        tlv(0xA1, *unsigned) if unsigned else b"",
    )


def signed_data(content: bytes, *signers: bytes, made: Made) -> bytes:
    """ContentInfo around SignedData; `content` is the whole value that is signed."""
    held = seq(
        integer(1),
        tlv(0x31, algorithm(DIGEST_OIDS[made.digest])),
        seq(oid(made.content_type), tlv(0xA0, content)),
        tlv(0xA0, *made.certificates) if made.certificates else b"",
        tlv(0x31, *signers),
    )
    return seq(oid(SIGNED), tlv(0xA0, held)) if made.wrapped else held


def indirect(digest: bytes, name: str = "sha256") -> bytes:
    """SpcIndirectDataContent for a PE image, its page data empty."""
    data = seq(oid("1.3.6.1.4.1.311.2.1.15"), seq(tlv(0x03, b"\0"), tlv(0xA0, tlv(0xA2, tlv(0x80)))))
    return seq(data, seq(algorithm(DIGEST_OIDS[name]), octets(digest)))


def signature(digest: bytes, made: Made | None = None, *more: Made) -> bytes:
    """The signed data of an image with that digest, a signer for each of `made` and `more`."""
    made = made or Made()
    content = indirect(digest, made.digest)
    inside = content[2 if content[1] < 0x80 else 2 + (content[1] & 0x7F) :]
    return signed_data(content, *(signer_info(inside, one, made.content_type) for one in (made, *more)), made=made)


def entry(body: bytes, kind: int = 2, revision: int = 0x200) -> bytes:
    """One WIN_CERTIFICATE, padded to 8 bytes."""
    raw = struct.pack("<IHH", 8 + len(body), revision, kind) + body
    return raw + bytes(-len(raw) % 8)


def image_digest(data: bytes, name: str = "sha256") -> bytes:
    """The digest of one of build_pe's images without a table: all but checksum and directory entry."""
    optional = struct.unpack_from("<I", data, 0x3C)[0] + 24
    at = optional + (112 if data[optional : optional + 2] == b"\x0b\x02" else 96) + 32
    return _hash(name, data[: optional + 64] + data[optional + 68 : at] + data[at + 8 :])


def with_table(data: bytes, table: bytes) -> bytes:
    """An image whose length is a multiple of 8, with that certificate table at its end."""
    assert len(data) % 8 == 0
    optional = struct.unpack_from("<I", data, 0x3C)[0] + 24
    at = optional + (112 if data[optional : optional + 2] == b"\x0b\x02" else 96) + 32
    return data[:at] + struct.pack("<II", len(data), len(table)) + data[at + 8 :] + table


def signed_pe(made: Made | None = None, *others: Made, image: MadePe | None = None) -> bytes:
    """An image with an entry for each way to sign."""
    data = pe(image)
    ways = (made or Made(), *others)
    return with_table(data, b"".join(entry(signature(image_digest(data, one.digest), one)) for one in ways))


def token(raw: bytes, by: Made, time: str = "20240506070809.25Z", imprint: bytes | None = None) -> bytes:
    """A time-stamp token over a signature's octets, as Microsoft's unsigned attribute."""
    stated = seq(algorithm(DIGEST_OIDS["sha256"]), octets(imprint or _hash("sha256", raw)))
    info = seq(integer(1), oid("1.3.6.1.4.1.32473.1"), stated, integer(7), tlv(0x18, time.encode()))
    by.content_type = TOKEN
    return attribute(TOKEN_ATTRIBUTE, signed_data(octets(info), signer_info(info, by, TOKEN), made=by))


def countersignature(raw: bytes, by: Made, time: str = "240506070809Z") -> bytes:
    """A countersignature (RFC 5652, section 11.4) over a signature's octets, with its time."""
    by.signed_more = [attribute("1.2.840.113549.1.9.5", tlv(0x17, time.encode()))]
    return attribute("1.2.840.113549.1.9.6", signer_info(raw, by, None))


def stamped() -> Made:
    """A way to sign with a nested signature and a time stamp, for an image that build_pe makes of itself."""
    clock = who("Saltmarsh Clock", 8, ROOT)
    inner = signature(image_digest(pe()), Made(certificates=CHAIN[:1]))
    return Made(
        certificates=CHAIN[:2],
        unsigned=[attribute(NESTED, inner)],
        stamp=lambda raw: token(raw, Made(clock, (clock.der,))),
    )


def _hash(name: str, data: bytes) -> bytes:
    return hashlib.new(name, data).digest()
