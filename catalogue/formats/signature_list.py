"""EFI signature lists: the keys and digests by which a machine with Secure Boot decides what it runs.

UEFI Specification, section 32.4.1 (Signature Database). A saved variable (`db`, `dbx`) is one list or several, end to
end; Linux puts the variable's attributes, four bytes, before them (efivarfs), and a signed update puts a time and a
signature there (8.2.2, EFI_VARIABLE_AUTHENTICATION_2). Nothing here judges a key; what a machine trusts is its own.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from catalogue.formats.certificates import read_certificate
from catalogue.formats.der import DerError, node_at
from catalogue.formats.limits import MAX_LIST_KEYS, MAX_PARTS, MAX_SIGNATURE_BYTES
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rows import efi_guid
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Reading, Span

NAME, KIND = "efi-signature-list", "signature-list/efi"
SOURCE = "UEFI Specification 32.4.1"
HEADER, OWNER = 28, 16
CERTIFICATE = "A5C059A1-94E4-4AA7-87B5-AB155C2BF072"
IMAGE_SHA256 = "C1C41626-504C-4092-ACA9-41F936934328"
CERTIFICATE_SHA256 = "3BD2A492-96C0-4079-B420-FCF98EF103ED"
TYPES = {
    CERTIFICATE: "X.509 certificate",
    IMAGE_SHA256: "SHA-256 of an image",
    CERTIFICATE_SHA256: "SHA-256 of a certificate's signed part",
    "826CA512-CF10-4AC9-B187-BE01496631BD": "SHA-1 of an image",
    "FF3E5307-9FD0-48C9-85F1-8AD56C701E01": "SHA-384 of an image",
    "093E0FAE-A6C4-4F50-9F1B-D41E2B89C19A": "SHA-512 of an image",
    "0B6E5233-A65C-44C9-9407-D9AB83BFC8BD": "SHA-224 of an image",
    "7076876E-80C2-4EE6-AAD2-28B349A6865B": "SHA-384 of a certificate's signed part",
    "446DBF63-2502-4CDA-BCFA-2465D2B0FE9D": "SHA-512 of a certificate's signed part",
    "3C5766E8-269C-4E34-AA14-ED776E85B3B6": "RSA-2048 key",
    "E2B36190-879B-4A3D-AD8D-F2E7BBA32784": "signature by RSA-2048 with SHA-256",
    "67F8444F-8743-48F1-A328-1EAAB8736080": "signature by RSA-2048 with SHA-1",
}
"""Signature types of the standard's table, by their GUIDs."""
_FIXED = {IMAGE_SHA256: 32, CERTIFICATE_SHA256: 48}
"""Bytes of an entry's data behind its owner: a digest; a digest and a time (EFI_TIME, 16)."""
_ATTRIBUTE_BYTES, _ATTRIBUTES = 4, 0xFF
_UPDATE = 16 + 24
"""An update's time, and the header of the WIN_CERTIFICATE_UEFI_GUID behind it."""
_BY_GUID, _REVISION = 0x0EF1, 0x0200
_MARK = _REVISION.to_bytes(2, "little") + _BY_GUID.to_bytes(2, "little")


def _raw(guid: str) -> bytes:
    """A GUID as EFI keeps it (UEFI Specification, appendix A)."""
    first, second, third, *rest = guid.split("-")
    return b"".join(bytes.fromhex(one)[::-1] for one in (first, second, third)) + bytes.fromhex("".join(rest))


_RAW = {_raw(guid): guid for guid in TYPES}


@dataclass(frozen=True, slots=True)
class Key:
    """One entry: its type's GUID, its data without the owner, and where the data begins (absolute in the view)."""

    type: str
    owner: str
    data: bytes
    offset: int


@dataclass(frozen=True, slots=True)
class Found:
    """All entries of the lists that begin at `start`; `end` is where the last whole list ends, `why` what ended it."""

    start: int
    end: int
    lists: tuple[tuple[str, int, int, int], ...]
    keys: tuple[Key, ...]
    why: str = ""
    more: bool = False


def start_of(view: View) -> int | None:
    """Where the first list begins: at 0, behind saved attributes, or behind an update's signature; None for none."""
    head = view.at(0, _UPDATE)
    if not maybe(head):
        return None
    if _is_list(view, 0):
        return 0
    if _is_list(view, _ATTRIBUTE_BYTES) and int.from_bytes(head[:4], "little") <= _ATTRIBUTES:
        return _ATTRIBUTE_BYTES
    behind = 16 + int.from_bytes(head[16:20], "little")
    return behind if head[20:24] == _MARK and _is_list(view, behind) else None


def maybe(data: bytes) -> bool:
    """See Reader.maybe."""
    return data[:16] in _RAW or data[4:20] in _RAW or data[20:24] == _MARK


def _is_list(view: View, at: int) -> bool:
    head = view.at(at, HEADER)
    if len(head) < HEADER or head[:16] not in _RAW:
        return False
    size, above, each = (int.from_bytes(head[one : one + 4], "little") for one in (16, 20, 24))
    return each > OWNER and HEADER + above <= size and at + HEADER <= view.size


def keys_in(view: View) -> Found | None:
    """Every entry of `view`, at most MAX_LIST_KEYS; None where it holds no list. Raises only the view's OSError."""
    start = start_of(view)
    if start is None:
        return None
    at, why = start, ""
    keys: list[Key] = []
    lists: list[tuple[str, int, int, int]] = []
    while at < view.size and not why and len(keys) < MAX_LIST_KEYS:
        head = view.at(at, HEADER)
        kind = efi_guid(head[:16]) if len(head) == HEADER else ""
        size, above, each = (int.from_bytes(head[one : one + 4], "little") for one in (16, 20, 24))
        body = at + HEADER + above
        if len(head) < HEADER or kind not in TYPES:
            why = "No signature list begins here."
        elif size < HEADER + above or each <= OWNER or (size - HEADER - above) % each:
            why = "The sizes of this signature list contradict one another."
        elif at + size > view.size:
            why = "This signature list is cut short."
        elif kind in _FIXED and each != OWNER + _FIXED[kind]:
            why = f"Entries of this list have {each - OWNER} bytes; the standard says {_FIXED[kind]}."
        else:
            lists.append((kind, at, size, (size - HEADER - above) // each))
            keys += _entries(view, kind, body, at + size, each, MAX_LIST_KEYS - len(keys))
            at += size
    return Found(start, at, tuple(lists), tuple(keys), why, not why and at < view.size)


def _entries(view: View, kind: str, at: int, end: int, each: int, most: int) -> Iterator[Key]:
    for one in range(at, min(end, at + each * most), each):
        data = view.at(one, min(each, MAX_SIGNATURE_BYTES))
        yield Key(kind, efi_guid(data[:OWNER]), data[OWNER:], one + OWNER)


def subject_of(key: Key) -> str:
    """Whom an X.509 entry names; "" for another entry, or a certificate that cannot be read."""
    if key.type != CERTIFICATE:
        return ""
    try:
        certificate = read_certificate(node_at(key.data, 0, len(key.data)))
    except DerError:
        return ""
    return certificate.subject_name if certificate is not None else ""


def looks_like(view: View) -> Looks:
    """SURE where a list of a known type begins with sizes that can be; a type is a GUID, which chance does not make."""
    return Looks.NO if start_of(view) is None else Looks.SURE


def read(view: View) -> Reading | None:
    """The lists that fill `view`. None where it holds none."""
    found = keys_in(view)
    if found is None:
        return None
    faults = (Fault("signature-list-damaged", found.why, found.end),) if found.why else ()
    notes = [Fault("too-many", f"At most {MAX_LIST_KEYS} entries are read.", found.end)] if found.more else []
    subjects = tuple(dict.fromkeys(one for one in map(subject_of, found.keys[:MAX_PARTS]) if one))
    digests = sum(one.type == IMAGE_SHA256 for one in found.keys)
    unread = sum(one.type == CERTIFICATE and not subject_of(one) for one in found.keys[:MAX_PARTS])
    if unread:
        notes.append(Fault("certificate-unread", f"{unread} certificates cannot be read.", found.start))
    count = len(found.keys)
    return Reading(
        format=NAME,
        kind=KIND,
        title=f"EFI signature list of {count} entr{'y' if count == 1 else 'ies'}",
        length=view.size,
        fields=(
            Field("lists_offset", found.start, None, 0, "Where the first list begins", SOURCE),
            Field("lists", len(found.lists), None, 0, "Lists, end to end", SOURCE),
            Field("entries", count, None, 0, "Entries of all lists", SOURCE),
            Field("certificates", subjects, None, 0, "Whom the certificates name", "RFC 5280, section 4.1"),
            Field("image_digests", digests, None, 0, "SHA-256 digests of images", SOURCE),
        ),
        parts=tuple(_part(found, *one) for one in found.lists[:MAX_PARTS]),
        faults=faults,
        notes=tuple(notes),
        spans=tuple(Span(TYPES[kind], at, size) for kind, at, size, _count in found.lists[:MAX_PARTS]),
    )


def _part(found: Found, kind: str, at: int, size: int, count: int) -> Reading:
    inside = [one for one in found.keys if at <= one.offset < at + size]
    fields = [
        Field("signature_type", kind, at, 16, TYPES[kind], SOURCE),
        Field("list_size", size, at + 16, 4, "Bytes of this list, its header included", SOURCE),
        Field("entry_count", count, None, 0, "Entries of this list", SOURCE),
    ]
    for number, one in enumerate(inside[:_SHOWN]):
        value = subject_of(one) or f"SHA-256 {hashlib.sha256(one.data).hexdigest()}"
        if kind in _FIXED:
            value = one.data[:32].hex()
        fields.append(Field(f"entry_{number}", value, one.offset, len(one.data), f"Owner {one.owner}", SOURCE))
    return Reading(f"{NAME}-part", KIND, f"List of {count}: {TYPES[kind]}", at, size, tuple(fields))


_SHOWN = 400

READER = Reader(
    name=NAME,
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    maybe=maybe,
    version=1,
    source="UEFI Specification 32.4.1, 8.2.2",
    depth="saved Secure Boot lists (db, dbx), updates of them: certificates by name, digests; nothing is judged",
)
