"""RPM packages: the lead, the signature header, the header, and the payload as it is packed.

RPM Reference Manual, "RPM V4 Package format" (rpm.org), and its list of tags. The payload is one member; what is packed
in it (a cpio archive) is opened like any other packed stream. Digests are compared; no signature is checked.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from catalogue.formats import archive_items
from catalogue.formats.archive_items import Item
from catalogue.formats.limits import MAX_DIGESTED, MAX_TEXT
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.rpm_header import Header, header
from catalogue.formats.view import View
from catalogue.shapes.reading import DateClaim, Fault, Field, Reading, Span, VersionClaim

SOURCE = "RPM V4 Package format"
TAGS = "RPM Reference Manual, Tags"
MAGIC = b"\xed\xab\xee\xdb"
KIND = "archive/rpm"
_LEAD_BYTES = 96
_NAME, _VERSION, _RELEASE, _EPOCH, _SUMMARY, _BUILT, _VENDOR, _ARCH, _SOURCE_RPM = (
    1000, 1001, 1002, 1003, 1004, 1006, 1011, 1022, 1044)  # fmt: skip
_FORMAT, _COMPRESSOR, _PAYLOAD_DIGEST, _DIGEST_ALGORITHM = 1124, 1125, 5092, 5093
_SIGNED_SIZE, _MD5, _LONG_SIZE, _SHA1, _SHA256 = 1000, 1004, 270, 269, 273
"""Of the signature header: bytes of header and payload, MD5 of both, the size where 32 bits do not hold it, digests of
the header."""
_SIGNATURES = {267: "DSA", 268: "RSA", 278: "OpenPGP", 1002: "PGP", 1005: "GPG"}
_ALGORITHMS = {1: "md5", 2: "sha1", 8: "sha256", 9: "sha384", 10: "sha512", 11: "sha224"}
"""RFC 4880, 9.4."""
_SUFFIXES = {"gzip": "gz", "bzip2": "bz2", "xz": "xz", "lzma": "lzma", "zstd": "zst"}
_TEXTS = (
    ("name", _NAME, "Name of the package"),
    ("version", _VERSION, "Version of what is packed"),
    ("release", _RELEASE, "Release of the package"),
    ("architecture", _ARCH, "Machine it is for"),
    ("vendor", _VENDOR, "Who made it, as it says"),
    ("summary", _SUMMARY, "What it is, as it says"),
    ("source_package", _SOURCE_RPM, "The source package it was built from"),
    ("payload_format", _FORMAT, "What is packed in the payload"),
    ("payload_compressor", _COMPRESSOR, "How the payload is packed"),
)


@dataclass(frozen=True, slots=True)
class Package:
    """The headers and the one member, the payload. `faults` are sentences about the whole."""

    signature: Header
    header: Header
    payload: Item
    faults: tuple[str, ...]


def looks_like(view: View) -> Looks:
    """SURE for the lead's magic and a signature header behind it."""
    first = view.at(0, 4)
    return Looks.SURE if first == MAGIC and header(view, _LEAD_BYTES) is not None else Looks.NO


def package(view: View) -> Package | None:
    """The package that fills `view`; None where its headers cannot be found. Raises nothing but the view's OSError."""
    if view.at(0, 4) != MAGIC:
        return None
    signature = header(view, _LEAD_BYTES)
    if signature is None:
        return None
    start = -(-signature.end // 8) * 8
    main = header(view, start)
    if main is None:
        missing = Header(min(start, view.size), min(start, view.size), {}, "has no header behind its signatures")
        said = (f"It {one.fault}." for one in (signature, missing) if one.fault)
        return Package(signature, missing, _payload(view, missing), tuple(said))
    faults = [f"It {one.fault}." for one in (signature, main) if one.fault]
    stated = signature.number(_LONG_SIZE) or signature.number(_SIGNED_SIZE)
    there = view.size - main.start
    if stated is not None and stated != there:
        faults.append(f"Its header and payload have {there} bytes, its signature header says {stated}.")
    return Package(signature, main, _payload(view, main), tuple(faults))


def chunks(view: View, found: Package) -> Iterator[bytes]:
    """The payload's bytes as they are packed. Raises Unreadable, and the view's OSError."""
    return archive_items.stored(view, found.payload)


def read(view: View) -> Reading | None:
    """The package that fills `view`; None where no headers stand behind the lead."""
    found = package(view)
    if found is None:
        return None
    main, signature, payload = found.header, found.signature, found.payload
    fields = [_field(name, main, tag, meaning) for name, tag, meaning in _TEXTS if main.text(tag)]
    for name, tag, meaning in (
        ("epoch", _EPOCH, "Epoch of the version"),
        ("built", _BUILT, "When it was built (UTC, s)"),
    ):
        if (number := main.number(tag)) is not None:
            fields.append(Field(name, number, main.tags[tag].offset, 4, meaning, TAGS))
    kinds = tuple(name for tag, name in _SIGNATURES.items() if tag in signature.tags)
    fields.append(Field("signatures", kinds, None, 0, "Signatures that it carries, not checked here", SOURCE))
    digests, wrong, notes = _digests(view, found)
    label = "-".join(part for part in (main.text(_NAME), main.text(_VERSION), main.text(_RELEASE)) if part)
    label = ".".join(part for part in (label, main.text(_ARCH)) if part)
    made = archive_items.reading(
        "rpm",
        KIND,
        f"RPM package {label[:120]}" if label else "RPM package",
        view.size,
        (payload,),
        fields=(*fields, *digests),
        faults=(*(Fault("archive-damaged", text, main.start) for text in found.faults), *wrong),
        notes=notes,
        spans=[
            Span("lead", 0, _LEAD_BYTES),
            Span("signature header", _LEAD_BYTES, signature.end - _LEAD_BYTES),
            Span("header", main.start, main.end - main.start),
            Span("payload", payload.listed_at, view.size - payload.listed_at),
        ],
    )
    version, built = main.text(_VERSION), main.number(_BUILT)
    if version.strip():
        claim = VersionClaim(version[:MAX_TEXT], "RPM header, VERSION", main.tags[_VERSION].offset)
        made = replace(made, versions=(claim,))
    if built:
        day = datetime.fromtimestamp(built, UTC).date().isoformat()
        made = replace(made, dates=(DateClaim(day, "RPM header, BUILDTIME", main.tags[_BUILT].offset),))
    return made


def _payload(view: View, main: Header) -> Item:
    form = main.text(_FORMAT) or "cpio"
    suffix = _SUFFIXES.get(main.text(_COMPRESSOR), "") or ("gz" if not main.text(_COMPRESSOR) else "")
    name = f"payload.{form}.{suffix}" if suffix else f"payload.{form}"
    name, unsafe = archive_items.named(name.encode("utf-8", "replace"))
    size = view.size - main.end
    return Item(
        name, size, size, main.end, main.end, unsafe=unsafe, fault="" if size else "is missing", readable=size > 0
    )


def _field(name: str, main: Header, tag: int, meaning: str) -> Field:
    found = main.tags[tag]
    return Field(name, main.text(tag)[:MAX_TEXT], found.offset, found.length, meaning, TAGS)


def _digests(view: View, found: Package) -> tuple[list[Field], list[Fault], list[Fault]]:
    """The digests that the package states, each compared with its bytes: fields, faults, notes."""
    main, signature = found.header, found.signature
    whole = (main.start, view.size - main.start)
    payload = (main.end, view.size - main.end)
    algorithm = _ALGORITHMS.get(main.number(_DIGEST_ALGORITHM) or 0, "")
    stated = [
        ("header_sha1", "sha1", signature.text(_SHA1), signature.tags.get(_SHA1), (main.start, main.end - main.start)),
        (
            "header_sha256",
            "sha256",
            signature.text(_SHA256),
            signature.tags.get(_SHA256),
            (main.start, main.end - main.start),
        ),
        ("payload_digest", algorithm, main.text(_PAYLOAD_DIGEST), main.tags.get(_PAYLOAD_DIGEST), payload),
        ("md5", "md5", signature.raw(_MD5).hex(), signature.tags.get(_MD5), whole),
    ]
    fields: list[Field] = []
    faults: list[Fault] = []
    notes: list[Fault] = []
    for name, kind, value, tag, (start, length) in stated:
        if not value or tag is None:
            continue
        meaning = "Digest of the header" if name.startswith("header") else "Digest of the payload as packed"
        if name == "md5":
            meaning = "MD5 of header and payload"
        fields.append(Field(name, value[:MAX_TEXT], tag.offset, tag.length, meaning, TAGS))
        matches = _matches(view, kind, value, start, length)
        if matches is None:
            notes.append(
                Fault("digest-not-compared", f"The digest {name} was not compared: too long or unknown.", tag.offset)
            )
            continue
        fields.append(Field(f"{name}_matches", matches, None, 0, "Whether it was recomputed and is the same", ""))
        if not matches:
            faults.append(
                Fault("archive-damaged", f"Its bytes do not have the digest that it states ({name}).", tag.offset)
            )
    return fields, faults, notes


def _matches(view: View, kind: str, value: str, start: int, length: int) -> bool | None:
    if kind not in _ALGORITHMS.values() or length > MAX_DIGESTED:
        return None
    digest = hashlib.new(kind, usedforsecurity=False)
    while length > 0:
        data = view.at(start, min(archive_items.CHUNK, length))
        if not data:
            return False
        digest.update(data)
        start += len(data)
        length -= len(data)
    return digest.hexdigest() == value.lower()


READER = Reader(
    first=(MAGIC,),
    name="rpm",
    kinds=(KIND,),
    looks_like=looks_like,
    read=read,
    version=1,
    source="RPM Reference Manual, RPM V4 Package format",
    depth="lead, signature header and header, digests of header and payload compared; the payload opened further",
)
