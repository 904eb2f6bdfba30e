"""Whose signatures of an EFI program hold, with the certificates themselves: what a machine's lists are asked about.

UEFI Specification, section 32.5 (image validation): a machine takes an image for the digest that stands in its `db`,
or for a signature whose chain leads to a certificate there. A reading names signers; this gives the bytes behind them.
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats import pe
from catalogue.formats.certificate_table import read_table
from catalogue.formats.certificates import Certificate, Chain, Proofs, certificate_of, chain_of
from catalogue.formats.der import DerError
from catalogue.formats.image_digest import image_digests
from catalogue.formats.limits import MAX_SIGNATURE_BYTES, MAX_SIGNATURES
from catalogue.formats.signature_part import SPC_INDIRECT_DATA, read_signature
from catalogue.formats.signer_proof import signs
from catalogue.formats.view import View


@dataclass(frozen=True, slots=True)
class Signers:
    """The SHA-256 that Secure Boot compares, "" where it cannot be made; the chain of each signature that holds."""

    sha256: str
    chains: tuple[Chain, ...] = ()


def signers_of(view: View, *, padded: bool = False) -> Signers:
    """The signers of the PE image that fills `view`; `padded` as `pe.read` has it. Raises the view's own OSError."""
    outline = pe.outline(view, padded=padded)
    if outline is None:
        return Signers("")
    start, end = outline.table
    data = view.at(start, min(end - start, MAX_SIGNATURE_BYTES))
    digests = dict(image_digests(view, outline, ("sha256",)))
    proofs = Proofs()
    chains: list[Chain] = []
    for entry in read_table(data).entries[:MAX_SIGNATURES] if data else ():
        if not entry.is_pkcs7:
            continue
        try:
            one = read_signature(data, start, entry, entry.body, entry.end, nested=False)
            if one.digest not in digests:
                digests.update(image_digests(view, outline, (one.digest,)))
            if digests.get(one.digest) != one.value.content.hex():
                continue
            for signer in one.signed.signers:
                by = certificate_of(signer, one.among)
                if by is not None and signs(signer, one.content, SPC_INDIRECT_DATA, by, proofs).holds:
                    chains.append(chain_of(by, one.among, proofs))
        except DerError:
            continue
    return Signers(digests.get("sha256", ""), tuple(chains))


def leads_to(chain: Chain, certificate: Certificate, proofs: Proofs) -> bool:
    """Whether `certificate` stands in the chain, or is proved to have signed its last link."""
    if any(one.node.raw == certificate.node.raw for one in chain.links):
        return True
    last = chain.links[-1]
    if last.own_issuer or last.issuer != certificate.subject:
        return False
    return certificate in chain_of(last, (certificate,), proofs).links
