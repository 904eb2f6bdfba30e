"""How one EFI program stands to a destination's saved lists.

UEFI Specification, section 32.5 and the reference firmware: an entry of `dbx` overrules all (the image's digest, or
any certificate of a signature's chain); else the image's digest or a chain that leads to a certificate of `db` will do.
That a certificate has expired is no matter there, so it is none here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

from catalogue.formats.certificates import Certificate, Chain, Proofs, read_certificate
from catalogue.formats.der import DerError, node_at
from catalogue.formats.driver_signers import Signers, leads_to, signers_of
from catalogue.formats.view import BytesView
from catalogue.shapes.host import DriverTrust, Machine, SecureBootKey, Signer


def trust_of(data: bytes, machine: Machine, *, padded: bool) -> DriverTrust:
    """What `machine` knows of the EFI program in `data`; `padded` where it was cut from an option ROM."""
    found = signers_of(BytesView(data), padded=padded)
    signers = tuple(
        Signer(chain.links[0].subject_name, chain.links[-1].issuer_name, chain.links[0].sha256)
        for chain in found.chains
    )
    revoked = _first(machine.dbx or (), found)
    trusted = _first(machine.db or (), found)
    return DriverTrust(found.sha256, signers, trusted, revoked)


def _first(keys: Sequence[SecureBootKey], found: Signers) -> SecureBootKey | None:
    for one in keys:
        if one.kind == "image-sha256":
            if found.sha256 and one.value.hex() == found.sha256:
                return one
        elif any(_speaks(one, chain) for chain in found.chains):
            return one
    return None


def _speaks(key: SecureBootKey, chain: Chain) -> bool:
    if key.kind == "certificate-sha256":
        return any(_signed_part(one) == key.value for one in chain.links)
    certificate = _certificate(key.value)
    return certificate is not None and leads_to(chain, certificate, Proofs())


def _signed_part(certificate: Certificate) -> bytes:
    """SHA-256 of the To-Be-Signed certificate (UEFI Specification 32.4.1, EFI_CERT_X509_SHA256)."""
    return hashlib.sha256(certificate.known.tbs_certificate_bytes).digest()


def _certificate(der: bytes) -> Certificate | None:
    try:
        return read_certificate(node_at(der, 0, len(der)))
    except DerError:
        return None


def named(keys: Iterable[SecureBootKey] | None) -> str:
    """The certificates of a list by name, for a sentence."""
    return ", ".join(dict.fromkeys(one.name for one in keys or () if one.kind == "certificate")) or "no certificate"
