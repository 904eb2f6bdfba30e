"""What a firmware management capsule carries: drivers, and payloads with their headers.

UEFI Specification 2.x, 23.3.2 (EFI_FIRMWARE_MANAGEMENT_CAPSULE_HEADER, EFI_FIRMWARE_MANAGEMENT_CAPSULE_IMAGE_HEADER),
23.1 (EFI_FIRMWARE_IMAGE_AUTHENTICATION, EFI_FIRMWARE_IMAGE_DEP), 32.2.4 (WIN_CERTIFICATE).
"""

from __future__ import annotations

from dataclasses import replace

from catalogue.formats import capsule_dependency, inner, pe
from catalogue.formats.capsule_draft import Draft
from catalogue.formats.capsule_signature import PayloadSignatures, Where, read_payload_signature
from catalogue.formats.certificate_table import PKCS7_GUID as PKCS7
from catalogue.formats.certificates import Proofs
from catalogue.formats.limits import MAX_DEVICES, MAX_PARTS
from catalogue.formats.rows import Kind, Row, number, read_rows
from catalogue.formats.shifted import shifted
from catalogue.formats.view import PartView, View
from catalogue.shapes.reading import Fault, Field, Reading, Span, VersionClaim

SOURCE = "UEFI Specification 23.3.2"
AUTHENTICATION = "UEFI Specification 23.1, EFI_FIRMWARE_IMAGE_AUTHENTICATION"
EDK2 = "edk2, FmpPayloadHeader (published source, no standard)"
_HEADER = (
    Row("item_header_version", 0, 4, Kind.LE, SOURCE, "Version of the list of items, 1"),
    Row("driver_count", 4, 2, Kind.LE, SOURCE, "Drivers to be started first"),
    Row("payload_count", 6, 2, Kind.LE, SOURCE, "Payloads"),
)
_PAYLOAD = (
    Row("payload_version", 0, 4, Kind.LE, SOURCE, "Version of this header, 1 to 3"),
    Row("image_type", 4, 16, Kind.GUID, SOURCE, "Which firmware it updates"),
    Row("image_index", 20, 1, Kind.LE, SOURCE, "Which image of that firmware, from 1"),
    Row("image_size", 24, 4, Kind.LE, SOURCE, "Bytes of the image behind this header"),
    Row("vendor_code_size", 28, 4, Kind.LE, SOURCE, "Bytes of the maker's own behind the image"),
)
_INSTANCE = Row("hardware_instance", 32, 8, Kind.LE, SOURCE, "The one device it is for; 0 for any")
_CAPABILITIES = Row("capabilities", 40, 8, Kind.LE, SOURCE, "Bit 0: authentication, bit 1: dependencies, in the image")
_SIZES = {1: 32, 2: 40, 3: 48}
_NEWEST = 3
_SIGNED, _DEPENDS = 1, 2
_CERTIFICATE = (
    Row("monotonic_count", 0, 8, Kind.LE, AUTHENTICATION, "Grows with each update, against going back"),
    Row("certificate_length", 8, 4, Kind.LE, AUTHENTICATION, "Bytes of the signature, its header included"),
    Row("certificate_revision", 12, 2, Kind.LE, AUTHENTICATION, "0200h"),
    Row("certificate_type", 14, 2, Kind.LE, AUTHENTICATION, "0EF1h: named by a GUID"),
    Row("certificate_guid", 16, 16, Kind.GUID, AUTHENTICATION, "Kind of signature; 4AAFD29D-…: PKCS#7"),
)
_COUNT_BYTES, _CERTIFICATE_HEADER = 8, 24
_REVISION, _BY_GUID = 0x0200, 0x0EF1
_EDK2_HEADER = (
    Row("header_signature", 0, 4, Kind.TEXT, EDK2, "MSS1"),
    Row("payload_header_size", 4, 4, Kind.LE, EDK2, "Bytes of this header"),
    Row("firmware_version", 8, 4, Kind.LE, EDK2, "Version as the system resource table counts it"),
    Row("lowest_supported_version", 12, 4, Kind.LE, EDK2, "Lowest version the firmware may be set back to"),
)
_EDK2_SIGNATURE, _EDK2_BYTES = b"MSS1", 16


def read_items(draft: Draft, start: int, end: int) -> None:
    """Add the list of items at `start`, and every item in [start, end) as a part."""
    bounded = PartView(draft.view, 0, end)
    found = read_rows(_HEADER, bounded, start)
    draft.fields += found.values()
    if len(found) < len(_HEADER):
        draft.faults.append(Fault("cut-short", "The capsule ends inside the header of its items.", end))
        return
    if number(found, "item_header_version") != 1:
        draft.damaged(f"Version {number(found, 'item_header_version')} of the list of items is not known.", start)
        return
    drivers, payloads = number(found, "driver_count"), number(found, "payload_count")
    table = start + 8
    count = drivers + payloads
    raw = bounded.at(table, 8 * min(count, MAX_PARTS))
    offsets = [int.from_bytes(raw[at : at + 8], "little") for at in range(0, len(raw) // 8 * 8, 8)]
    if len(offsets) < min(count, MAX_PARTS):
        draft.faults.append(Fault("cut-short", "The capsule ends inside the list of its items.", end))
    elif count > MAX_PARTS:
        draft.odd(f"Of {count} items {MAX_PARTS} are read.", table)
    meaning = "Where each item begins, from the list's first byte"
    draft.fields.append(Field("item_offsets", tuple(offsets[:MAX_DEVICES]), table, len(raw), meaning, SOURCE))
    head = table + 8 * count
    draft.spans.append(Span("list of items", start, max(0, min(head, end) - start)))
    proofs = Proofs()
    stops = sorted({start + one for one in offsets} | {end})
    for index, offset in enumerate(offsets):
        at = start + offset
        if not head <= at < end:
            draft.damaged(f"Item {index} would begin outside the capsule.", table + 8 * index)
            continue
        stop = next((one for one in stops if one > at), end)
        if index < drivers:
            _driver(draft, index, at, min(stop, end))
        else:
            _payload(draft, index - drivers, at, end, proofs)


def _driver(draft: Draft, index: int, at: int, stop: int) -> None:
    draft.spans.append(Span(f"driver {index}", at, stop - at))
    found = pe.read_driver(PartView(draft.view, at, stop - at)) if inner.allowed(stop - at) else None
    if found is None:
        draft.damaged(f"Driver {index} is no EFI program.", at)
        return
    draft.add(shifted(found, at))


def _payload(draft: Draft, index: int, at: int, end: int, proofs: Proofs) -> None:
    """One payload: its header, then the image, then the maker's own bytes."""
    bounded = PartView(draft.view, 0, end)
    found = read_rows(_PAYLOAD, bounded, at)
    version = number(found, "payload_version")
    size = _SIZES.get(min(version, _NEWEST))
    if size is None or at + size > end:
        what = f"has version {version} of its header" if size is None else "does not hold its header"
        draft.damaged(f"Payload {index} {what}.", at)
        return
    if version > _NEWEST:
        draft.odd(f"Payload {index} has version {version} of its header; it is read as version {_NEWEST}.", at)
    rows = {1: (), 2: (_INSTANCE,)}.get(version, (_INSTANCE, _CAPABILITIES))
    if rows:
        found.update(read_rows(rows, bounded, at))
    image, own = number(found, "image_size"), number(found, "vendor_code_size")
    start = at + size
    faults: list[Fault] = []
    if start + image + own > end:
        text = f"The capsule ends before payload {index} does."
        faults.append(Fault("cut-short", text, at + 24))
    if number(found, "image_index") == 0:
        faults.append(Fault("capsule-damaged", f"Payload {index} has image index 0; they count from 1.", at + 20))
    stop = min(start + image, end)
    draft.spans.append(Span(f"payload {index}, header", at, size))
    if stop > start:
        draft.spans.append(Span(f"payload {index}, image", start, stop - start))
    if own and stop < end:
        draft.spans.append(Span(f"payload {index}, the maker's own", stop, min(own, end - stop)))
    part = Reading(
        format="capsule-payload",
        kind="capsule-payload",
        title=f"Payload {index}, image type {found['image_type'].value}",
        offset=at,
        length=min(start + image + own, end) - at,
        fields=tuple(found.values()),
        faults=tuple(faults),
    )
    draft.add(_image(part, draft.view, index, (start, stop), proofs) if stop > start else part)


def _image(part: Reading, view: View, index: int, where: tuple[int, int], proofs: Proofs) -> Reading:
    """The payload with what its image holds: a signature, dependencies, edk2's own header, and then the firmware."""
    start, stop = where
    fields = list(part.fields)
    notes: list[Fault] = []
    signatures = PayloadSignatures(())
    versions: tuple[VersionClaim, ...] = ()
    known = part.value("capabilities")
    capabilities = known if isinstance(known, int) else None
    at = start
    image = PartView(view, 0, stop)
    signature = read_rows(_CERTIFICATE, image, at)
    length = number(signature, "certificate_length")
    signed = (
        len(signature) == len(_CERTIFICATE)
        and number(signature, "certificate_revision") == _REVISION
        and number(signature, "certificate_type") == _BY_GUID
        and _CERTIFICATE_HEADER <= length <= stop - at - _COUNT_BYTES
        and (capabilities is None or bool(capabilities & _SIGNED))
    )
    if signed:
        fields += signature.values()
        body, at = at + _COUNT_BYTES + _CERTIFICATE_HEADER, at + _COUNT_BYTES + length
        if signature["certificate_guid"].value == PKCS7:
            signatures = read_payload_signature(image, Where(body, at, start, at, stop), proofs)
    elif capabilities is not None and capabilities & _SIGNED:
        text = f"Payload {index} should begin with a signature and does not."
        notes.append(Fault("capsule-odd", text, start))
    fields.append(
        Field("authenticated", signed, None, 0, "Whether a signature stands before the image", AUTHENTICATION)
    )
    fields.append(Field("signed_by", signatures.signed_by, None, 0, "Whose keys made the signatures", AUTHENTICATION))
    if capabilities is not None and capabilities & _DEPENDS:
        depends = capsule_dependency.read(image, at)
        if depends is None:
            notes.append(Fault("capsule-odd", f"The dependencies of payload {index} have no end.", at))
        else:
            fields.append(depends)
            at += depends.length
    edk2 = read_rows(_EDK2_HEADER, image, at) if image.at(at, 4) == _EDK2_SIGNATURE else {}
    if edk2 and _EDK2_BYTES <= number(edk2, "payload_header_size") <= stop - at:
        fields += edk2.values()
        value = f"{number(edk2, 'firmware_version'):#010x}"
        versions = (VersionClaim(value, f"capsule payload {index}, firmware version", at + 8),)
        at += number(edk2, "payload_header_size")
    found = inner.known_at(view, at, stop - at)
    meaning = "Where the firmware itself begins"
    fields.append(Field("firmware_offset", at, None, 0, meaning, SOURCE))
    if found is None:
        return replace(part, fields=tuple(fields), parts=signatures.parts, notes=tuple(notes), versions=versions)
    return replace(
        part,
        title=f"{part.title}: {found.title}",
        fields=tuple(fields),
        parts=(found, *signatures.parts),
        ids=found.ids,
        versions=(*versions, *found.versions),
        faults=(*part.faults, *found.faults),
        notes=(*notes, *found.notes),
    )
