"""X.509 certificates and what they prove: names, times, fingerprints, and whether a key made a signature.

RFC 5280. The cryptography is PyPI `cryptography`'s (the Python Cryptographic Authority's own, on OpenSSL and Rust:
released every few weeks, typed, one wheel a platform for Linux, Windows and macOS; about 80 ms to load, so it is loaded
with the first signature). Of ASN.1 only the outer shape of signed data is walked by `der`, which knows where in the
file each value stands; PyPI `asn1crypto`, last released in 2022, does not.
"""

from __future__ import annotations

import hashlib
import threading
import warnings
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from catalogue.formats.der import NULL, SEQUENCE, DerError, Node, context, node_at
from catalogue.formats.limits import MAX_KEY_BITS, MAX_PROOFS
from catalogue.formats.signed_data import DIGESTS, Signer

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.hashes import HashAlgorithm
    from cryptography.x509 import Certificate as Loaded
    from cryptography.x509 import Name

MAX_NAME = 256
"""Characters of a name (RFC 5280, appendix A.1 allows 64 for a common name)."""
MAX_CHAIN = 10
PLAIN_RSA = {
    "1.2.840.113549.1.1.1": None,
    "1.2.840.113549.1.1.4": "md5",
    "1.2.840.113549.1.1.5": "sha1",
    "1.2.840.113549.1.1.11": "sha256",
    "1.2.840.113549.1.1.12": "sha384",
    "1.2.840.113549.1.1.13": "sha512",
    "1.2.840.113549.1.1.14": "sha224",
}
"""RSASSA-PKCS1-v1_5 and the digest that the name fixes (RFC 8017, appendix A.2.4)."""
PSS_RSA = "1.2.840.113549.1.1.10"
CURVES = {
    "1.2.840.10045.2.1": None,
    "1.2.840.10045.4.1": "sha1",
    "1.2.840.10045.4.3.1": "sha224",
    "1.2.840.10045.4.3.2": "sha256",
    "1.2.840.10045.4.3.3": "sha384",
    "1.2.840.10045.4.3.4": "sha512",
}
"""ECDSA and the digest that the name fixes (RFC 5758, section 3.2)."""
_ONE_AT_A_TIME = threading.Lock()
"""`warnings.catch_warnings` is for one thread at a time."""


@dataclass(slots=True)
class Proofs:
    """How many signatures by keys may still be checked for one piece."""

    left: int = MAX_PROOFS

    def spend(self) -> bool:
        """Whether one more may be checked; it then counts."""
        self.left -= 1
        return self.left >= 0


@dataclass(frozen=True, slots=True)
class Certificate:
    """One certificate: where it stands, its names as DER values, and how the library sees it."""

    node: Node
    serial: bytes
    issuer: bytes
    subject: bytes
    known: Loaded = field(repr=False, compare=False)

    @property
    def subject_name(self) -> str:
        """The subject's common name, or the whole name where it has none."""
        return _name(self.known.subject)

    @property
    def issuer_name(self) -> str:
        """The issuer's common name, or the whole name where it has none."""
        return _name(self.known.issuer)

    @property
    def first_day(self) -> str:
        """The first day on which it holds, UTC, as YYYY-MM-DD."""
        return self.known.not_valid_before_utc.date().isoformat()

    @property
    def last_day(self) -> str:
        """The day in which it expires, UTC, as YYYY-MM-DD."""
        return self.known.not_valid_after_utc.date().isoformat()

    @property
    def sha256(self) -> str:
        """The certificate's fingerprint: SHA-256 of its DER bytes, lower-case hex."""
        return hashlib.sha256(self.node.raw).hexdigest()

    @property
    def serial_number(self) -> str:
        """The serial number in lower-case hex."""
        return node_at(self.serial, 0, len(self.serial)).content.hex()

    @property
    def own_issuer(self) -> bool:
        """Whether it names itself as its issuer, as a root does."""
        return self.issuer == self.subject

    def has_key_id(self, key_id: bytes) -> bool:
        """Whether its subject key identifier is that (RFC 5280, 4.2.1.2)."""
        from cryptography.x509 import SubjectKeyIdentifier

        try:
            return self.known.extensions.get_extension_for_class(SubjectKeyIdentifier).value.digest == key_id
        except Exception:  # whatever the library finds wrong with the extensions, the answer is no
            return False


@dataclass(frozen=True, slots=True)
class Chain:
    """A certificate and its issuers, each proved to have signed the one before. `broken`: an issuer's name is there,
    but its key did not sign; `unproved`: it could not be checked."""

    links: tuple[Certificate, ...]
    broken: bool = False
    unproved: bool = False

    @property
    def to_root(self) -> bool:
        """Whether the last one is its own issuer."""
        return self.links[-1].own_issuer and not self.broken and not self.unproved


def read_certificate(node: Node) -> Certificate | None:
    """The certificate a value holds, None where it is none that the library reads."""
    from cryptography.x509 import load_der_x509_certificate

    try:
        inside = list(node.parts(SEQUENCE, "a certificate", 3)[0].parts(SEQUENCE, "a certificate", 6))
        if inside[0].tag == context(0):
            inside.pop(0)
        with _ONE_AT_A_TIME, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # such as a serial number of 0: seen in the wild, and no matter here
            known = load_der_x509_certificate(node.raw)
        found = Certificate(node, inside[0].raw, inside[2].raw, inside[4].raw, known)
        # The library decodes names and times when asked: what is damaged shows here, once.
        _ = found.subject_name, found.issuer_name, found.first_day, found.last_day, found.serial_number
        return found
    except Exception:  # the library has errors of many kinds for damaged certificates
        return None


def certificate_of(signer: Signer, among: tuple[Certificate, ...]) -> Certificate | None:
    """The certificate a signer names, None where it is not there."""
    for one in among:
        if signer.key_id:
            if one.has_key_id(signer.key_id):
                return one
        elif (one.issuer, one.serial) == (signer.issuer, signer.serial):
            return one
    return None


def chain_of(first: Certificate, among: tuple[Certificate, ...], proofs: Proofs) -> Chain:
    """The chain from a certificate as far as the certificates at hand lead."""
    links = [first]
    while len(links) < MAX_CHAIN:
        last = links[-1]
        named = [one for one in among if one.subject == last.issuer]
        if last.own_issuer and last not in named:
            named.append(last)
        if not named:
            return Chain(tuple(links))
        answers = [(one, _issued(last, one, proofs)) for one in named]
        proved = next((one for one, answer in answers if answer), None)
        if proved is None:
            return Chain(tuple(links), broken=all(answer is False for _, answer in answers), unproved=True)
        if proved in links:
            return Chain(tuple(links))
        links.append(proved)
    return Chain(tuple(links))


def _issued(one: Certificate, by: Certificate, proofs: Proofs) -> bool | None:
    """Whether `by` signed `one`; None where that cannot be checked."""
    from cryptography.exceptions import InvalidSignature

    try:
        if not _small(by.known.public_key()) or not proofs.spend():
            return None
        one.known.verify_directly_issued_by(by.known)
    except InvalidSignature:
        return False
    except Exception:  # an algorithm the library does not know, a damaged key
        return None
    return True


def proved(signer: Signer, by: Certificate, signed: bytes, proofs: Proofs) -> bool | None:
    """Whether the certificate's key made the signer's signature over `signed`; None where that cannot be checked."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa

    try:
        key = by.known.public_key()
        name = signer.algorithm.children()[0].oid()
        if not _small(key) or not proofs.spend():
            return None
        raw = signer.signature.content
        if isinstance(key, rsa.RSAPublicKey) and name in PLAIN_RSA:
            key.verify(raw, signed, padding.PKCS1v15(), _hash(PLAIN_RSA[name] or signer.digest))
        elif isinstance(key, rsa.RSAPublicKey) and name == PSS_RSA:
            digest, mask = _pss(signer)
            key.verify(raw, signed, padding.PSS(padding.MGF1(_hash(mask)), padding.PSS.AUTO), _hash(digest))
        elif isinstance(key, ec.EllipticCurvePublicKey) and name in CURVES:
            key.verify(raw, signed, ec.ECDSA(_hash(CURVES[name] or signer.digest)))
        else:
            return None
    except InvalidSignature:
        return False
    except Exception:  # an algorithm the library does not know, a damaged key
        return None
    return True


def algorithm_text(signer: Signer) -> str:
    """How a signer signs, in words; the dotted identifier where it is not known."""
    name = signer.algorithm.children()[0].oid()
    if name in PLAIN_RSA:
        return f"RSA with {PLAIN_RSA[name] or signer.digest}"
    if name == PSS_RSA:
        return "RSA-PSS"
    if name in CURVES:
        return f"ECDSA with {CURVES[name] or signer.digest}"
    return name


def _pss(signer: Signer) -> tuple[str, str]:
    """The digest and the mask's digest of RSASSA-PSS (RFC 4055, 3.1; SHA-1 where not given). Raises DerError."""
    inside = signer.algorithm.children()
    digest = mask = "sha1"
    for one in inside[1].children() if len(inside) > 1 and inside[1].tag != NULL else ():
        if one.tag == context(0):
            digest = _digest(one.children()[0])
        elif one.tag == context(1):
            mask = _digest(one.children()[0].parts(SEQUENCE, "a mask", 2)[1])
    return digest, mask


def _digest(algorithm: Node) -> str:
    name = algorithm.parts(SEQUENCE, "an algorithm", 1)[0].oid()
    if name not in DIGESTS:
        raise DerError("a digest that is not known", algorithm.start)
    return DIGESTS[name]


def _hash(name: str) -> HashAlgorithm:
    """The library's digest of that name. Raises KeyError."""
    from cryptography.hazmat.primitives import hashes

    known: dict[str, HashAlgorithm] = {
        "md5": hashes.MD5(),  # noqa: S303 (old signatures are read as they are)
        "sha1": hashes.SHA1(),  # noqa: S303
        "sha224": hashes.SHA224(),
        "sha256": hashes.SHA256(),
        "sha384": hashes.SHA384(),
        "sha512": hashes.SHA512(),
    }
    return known[name]


def _small(key: object) -> bool:
    """Whether a key is so small that a check with it takes little time; keys without a size are of fixed size."""
    return int(getattr(key, "key_size", 0)) <= MAX_KEY_BITS


def _name(name: Name) -> str:
    from cryptography.x509.oid import NameOID

    held = name.get_attributes_for_oid(NameOID.COMMON_NAME)
    text = held[0].value if held else name.rfc4514_string()
    return text[:MAX_NAME] if isinstance(text, str) else text.hex()[:MAX_NAME]
