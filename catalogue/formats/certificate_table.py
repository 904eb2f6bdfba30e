"""The certificate table of a PE image: its entries, at 8-byte steps.

Microsoft PE Format, "The Attribute Certificate Table"; UEFI Specification, "UEFI Image Signing" (the types 0EF0h and
0EF1h).
"""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.formats.limits import MAX_SIGNATURES
from catalogue.formats.rows import efi_guid

HEADER_BYTES = 8
STEP = 8
PKCS7, EFI_GUID = 0x0002, 0x0EF1
TYPES = {
    0x0001: "X.509 certificate",
    PKCS7: "PKCS #7 signed data",
    0x0003: "reserved",
    0x0004: "terminal server stack",
    0x0EF0: "EFI PKCS #1",
    EFI_GUID: "EFI, by GUID",
}
REVISIONS = {0x0100: "1.0", 0x0200: "2.0"}
PKCS7_GUID = "4AAFD29D-68DF-49EE-8AA9-347D375665A7"
"""UEFI Specification, "Variable Authentication": EFI_CERT_TYPE_PKCS7_GUID."""
_GUID_BYTES = 16


@dataclass(frozen=True, slots=True)
class Entry:
    """One WIN_CERTIFICATE: where it starts and ends in the table's bytes, and where the certificate itself begins."""

    start: int
    end: int
    revision: int
    type: int
    body: int
    guid: str = ""

    @property
    def is_pkcs7(self) -> bool:
        """Whether it holds signed data."""
        return self.type == PKCS7 or (self.type == EFI_GUID and self.guid == PKCS7_GUID)


@dataclass(frozen=True, slots=True)
class Table:
    """The entries of a table; `damage` says what is wrong and `at` where, `more` that the rest was not looked at."""

    entries: tuple[Entry, ...]
    damage: str = ""
    at: int = 0
    more: bool = False


def read_table(data: bytes) -> Table:
    """The entries of a certificate table, as far as they are sound and MAX_SIGNATURES goes."""
    entries: list[Entry] = []
    at = 0
    while at + HEADER_BYTES <= len(data):
        length = int.from_bytes(data[at : at + 4], "little")
        if length == 0 and not any(data[at:]):
            break  # padding to the end
        if length < HEADER_BYTES:
            return Table(tuple(entries), f"An entry of the certificate table is {length} bytes long.", at)
        if at + length > len(data):
            return Table(tuple(entries), "An entry of the certificate table leads past the table's end.", at)
        if len(entries) == MAX_SIGNATURES:
            return Table(tuple(entries), more=True)
        entries.append(_entry(data, at, at + length))
        at += length + -length % STEP
    if not entries:
        return Table((), "The certificate table holds no entry.", 0)
    if any(data[at:]):
        return Table(tuple(entries), "Bytes that are no entry stand at the end of the certificate table.", at)
    return Table(tuple(entries))


def _entry(data: bytes, at: int, end: int) -> Entry:
    revision, kind = (int.from_bytes(data[at + one : at + one + 2], "little") for one in (4, 6))
    body = at + HEADER_BYTES
    guid = ""
    if kind == EFI_GUID and body + _GUID_BYTES <= end:
        guid = efi_guid(data[body : body + _GUID_BYTES])
        body += _GUID_BYTES
    return Entry(at, end, revision, kind, body, guid)
