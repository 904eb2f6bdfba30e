"""A saved signature list as keys that drivers are asked about."""

from __future__ import annotations

from catalogue.formats import signature_list
from catalogue.formats.view import BytesView
from catalogue.shapes.host import SecureBootKey

_KINDS = {
    signature_list.CERTIFICATE: "certificate",
    signature_list.IMAGE_SHA256: "image-sha256",
    signature_list.CERTIFICATE_SHA256: "certificate-sha256",
}
_DIGEST_BYTES = 32


def keys_of(data: bytes, file: str) -> tuple[tuple[SecureBootKey, ...], str]:
    """The entries of a saved list that can be asked, and what is wrong with it ("" where nothing is).

    Entries of other types are left out and said: a list that cannot be asked whole proves nothing by silence.
    """
    found = signature_list.keys_in(BytesView(data))
    if found is None:
        return (), "it holds no EFI signature list"
    if found.why:
        return (), found.why.removesuffix(".").lower()
    if found.more:
        return (), "it has more entries than are read"
    made: list[SecureBootKey] = []
    for one in found.keys:
        kind = _KINDS.get(one.type)
        if kind is None:
            return (), f"it has an entry of a type that is not read ({signature_list.TYPES[one.type]})"
        value = one.data if kind == "certificate" else one.data[:_DIGEST_BYTES]
        name = signature_list.subject_of(one) if kind == "certificate" else value.hex()
        if not name:
            return (), "a certificate in it cannot be read"
        made.append(SecureBootKey(kind, value, name, file, one.offset))
    return tuple(made), ""
