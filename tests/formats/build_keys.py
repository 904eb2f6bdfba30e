"""EFI signature lists by hand: UEFI Specification, section 32.4.1, one field a line."""

from __future__ import annotations

import struct
import uuid

CERTIFICATE = "a5c059a1-94e4-4aa7-87b5-ab155c2bf072"
IMAGE_SHA256 = "c1c41626-504c-4092-aca9-41f936934328"
CERTIFICATE_SHA256 = "3bd2a492-96c0-4079-b420-fcf98ef103ed"
OWNER = uuid.UUID("f2340011-0001-4002-8003-000000000001")


def keys(kind: str, *entries: bytes, above: bytes = b"", owner: uuid.UUID = OWNER) -> bytes:
    """One list; all entries are of one length."""
    each = 16 + len(entries[0])
    return b"".join(
        (
            uuid.UUID(kind).bytes_le,  # signature type
            struct.pack("<I", 28 + len(above) + each * len(entries)),  # bytes of the list
            struct.pack("<I", len(above)),  # bytes of its own header
            struct.pack("<I", each),  # bytes of an entry
            above,
            *(owner.bytes_le + one for one in entries),
        )
    )


def saved(body: bytes, attributes: int = 0x27) -> bytes:
    """As efivarfs shows a variable: four bytes of attributes first."""
    return struct.pack("<I", attributes) + body


def update(body: bytes, signature: bytes = b"\x30\x82" + bytes(60)) -> bytes:
    """EFI_VARIABLE_AUTHENTICATION_2 (8.2.2): a time, a WIN_CERTIFICATE_UEFI_GUID of PKCS#7, then the lists."""
    guid = uuid.UUID("4aafd29d-68df-49ee-8aa9-347d375665a7").bytes_le
    head = struct.pack("<IHH", 24 + len(signature), 0x0200, 0x0EF1)
    return bytes(16) + head + guid + signature + body
