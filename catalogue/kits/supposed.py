"""A piece that is not here, as a family describes it: what a role wants of it, in words and as a piece to judge.

It exists only while a change is tried. It has what the family asks for and nothing besides, is vouched for, and lies
beside its companions; whatever the judge still holds against it is no reason to call it fit.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from catalogue.families.model import Claim, Release
from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.case import VERSIONED
from catalogue.kits.criteria import EEPROM
from catalogue.kits.images import OPTION_ROM
from catalogue.kits.known import named_by
from catalogue.kits.rules_host import CAPSULE, PACKAGE, RECORD, name_of
from catalogue.shapes.host import DriverTrust, SecureBootKey
from catalogue.shapes.layout import Layout
from catalogue.shapes.piece import Beside, Place, Vouch
from catalogue.shapes.reading import CardId, Field, LayoutAnswer, Match, Reading, VersionClaim

X86_64 = 0x8664
NOT_HERE = "a piece that is not here yet"
"""How the place of every supposed piece begins."""
SIZE = 65_536
NAMED = Vouch("named", "a source that a person records", "", "sha256")
_EFI_DRIVER = 11


def mark(text: str) -> str:
    """A SHA-256 for a piece that nobody has: that of a description, which no content can have by chance."""
    return hashlib.sha256(f"\0supposed {text}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Description:
    """What is asked of a missing piece: pairs of what and which; the version and digest that it would have."""

    wanted: tuple[tuple[str, str], ...]
    version: str | None
    sha256: str | None


def describe(asked: Asked, wanted: Wanted, release: Release | None, version: str | None = None) -> Description:
    """What the family says of a piece for the role, of `release` where one is given."""
    claim = release.claims.get(wanted.role.name, Claim()) if release is not None else Claim()
    said = list(_of_claim(claim, release))
    if version is not None and not said:
        said.append(("version", version))
    if version is None:
        version = next(iter(named_by(claim)), None) or claim.most or claim.least or wanted.role.lowest
    said += _of_role(asked, wanted)
    held = asked.candidates
    return Description(tuple(said), version, min((one for one in _digests(claim) if one not in held), default=None))


def _digests(claim: Claim) -> list[str]:
    return [one.lower() for one in claim.sha256]


def can_be_supplied(asked: Asked, wanted: Wanted, release: Release | None) -> bool:
    """Whether a piece could still be brought that the release claims: not where it names digests that are all here."""
    claim = release.claims.get(wanted.role.name, Claim()) if release is not None else Claim()
    return not claim.sha256 or any(one not in asked.candidates for one in _digests(claim))


def _of_claim(claim: Claim, release: Release | None) -> Iterator[tuple[str, str]]:
    if release is None:
        return
    yield "release", release.name
    if names := named_by(claim):
        yield "version", names[0]
    if claim.sha256:
        yield "SHA-256", " or ".join(sorted(_digests(claim)))
    elif claim.least is not None or claim.most is not None:
        yield "version", f"{claim.least or 'any'} to {claim.most or 'any'}"


def _of_role(asked: Asked, wanted: Wanted) -> Iterator[tuple[str, str]]:
    role = wanted.role
    if wanted.kind is not None:
        yield "kind", wanted.kind
    if wanted.cards:
        yield "for the card", " or ".join(f"{vendor:04X}:{device:04X}" for vendor, device in sorted(wanted.cards))
    if wanted.right is not None:
        yield "holds the text", wanted.right
    if wanted.layout is not None:
        magic = wanted.layout.magic.hex(" ").upper()
        yield "layout", f"{wanted.layout.name}: {wanted.layout.size} bytes, {magic} at {wanted.layout.magic_at:X}h"
        if asked.mode is not None and any(one.means.startswith("mode.") for one in wanted.layout.fields):
            yield "for the mode", asked.mode.name
        yield "identity", "none; its identity fields are empty"
    elif role.size is not None:
        least, most = role.size
        yield "size", f"{least} bytes" if least == most else f"{least} to {most} bytes"
    if role.lowest is not None:
        yield "at least version", role.lowest
    if wanted.companions:
        yield "beside it", ", ".join(wanted.companions)
    machine = asked.host.destination
    if _is_efi_rom(wanted) and machine.cpu is not None:
        yield "for the processor", name_of(machine.cpu)
    if _is_efi_rom(wanted) and machine.secure_boot:
        yield "its driver", "signed, so that the destination's Secure Boot takes it"
    revisions = dict.fromkeys(one.pci_revision.text for one in asked.cards if one.pci_revision is not None)
    if revisions and wanted.kind in (None, PACKAGE):
        yield "where it names a PCI revision", ", ".join(revisions)
    if role.written:
        yield "vouched for", "by its maker's list, whose source you record"


def _is_efi_rom(wanted: Wanted) -> bool:
    return wanted.kind == f"{OPTION_ROM}/efi"


def in_words(description: Description) -> str:
    """The description as the end of a sentence."""
    return "; ".join(f"{what} {which}" for what, which in description.wanted) or "the family says no more of it"


def supposed(asked: Asked, wanted: Wanted, description: Description, name: str) -> tuple[Candidate, ...]:
    """The piece that is described, and its companions where those are written too."""
    role = wanted.role
    version = description.version
    sha256 = description.sha256 or mark(f"{role.name} {description.wanted} {name}")
    reading = _reading(asked, wanted, version)
    beside = tuple(Beside(one.lower(), mark(f"beside {one}"), SIZE, "opaque") for one in wanted.companions)
    piece = Candidate(
        sha256=sha256,
        size=_size(asked, wanted),
        kind=reading.kind,
        reading=reading,
        places=(Place(name),),
        vouches=(NAMED,),
        matches=dict(_matches(wanted, version)),
        layouts={wanted.layout.name: _laid_out(asked, wanted.layout, version)} if wanted.layout is not None else {},
        beside=beside,
        trust={0: _trusted()} if asked.host.destination.secure_boot else {},
    )
    return (piece, *(companion(one) for one in beside))


def companion(beside: Beside) -> Candidate:
    """A companion that is not here, as a sound piece that is vouched for."""
    reading = Reading("opaque", "opaque", "opaque")
    return Candidate(beside.sha256, beside.size, "opaque", reading, (Place(f"{NOT_HERE}: {beside.name}"),), (NAMED,))


def _size(asked: Asked, wanted: Wanted) -> int:
    if wanted.layout is not None:
        return wanted.layout.size
    if wanted.role.size is not None:
        return wanted.role.size[0]
    return min(SIZE, asked.family.card.flash or SIZE)


def _matches(wanted: Wanted, version: str | None) -> Iterator[tuple[str, Match]]:
    if wanted.right is not None:
        yield wanted.right, Match(0, len(wanted.right))
    if wanted.role.version is not None and version is not None:
        yield wanted.role.version, Match(0, len(version), version)


def _laid_out(asked: Asked, layout: Layout, version: str | None) -> LayoutAnswer:
    ids = asked.mode.ids if asked.mode is not None else ()
    said: dict[str, int | str | None] = {}
    if ids:
        said = {"mode.vendor": ids[0].vendor, "mode.device": ids[0].device}
        said |= {"mode.subvendor": ids[0].subvendor, "mode.subdevice": ids[0].subdevice}
    if version is not None:
        said["version"] = version
    fields = tuple(Field(one.means, said.get(one.means) or 0, one.at, one.length) for one in layout.fields)
    empty = frozenset(one.means for one in layout.fields if one.means.startswith("identity."))
    return LayoutAnswer(
        "fits", fields, {one.name: one.value for one in fields}, empty, None if layout.sum is None else True
    )


def _reading(asked: Asked, wanted: Wanted, version: str | None) -> Reading:
    kind = wanted.kind if wanted.kind not in (None, EEPROM) else "opaque"
    assert kind is not None
    card = min(wanted.cards, default=None)
    ids = (CardId(*card, (), wanted.class_codes.get(card)),) if card is not None else ()
    claims = (VersionClaim(version, "VERSIONINFO"),) if version is not None and kind in VERSIONED else ()
    if kind.startswith(OPTION_ROM):
        part = _image(asked, kind if kind != OPTION_ROM else f"{OPTION_ROM}/legacy-x86", ids)
        return Reading("supposed", kind, kind, parts=(part,), ids=ids)
    if kind == "efi-application":
        machine = Field("machine", asked.host.bench.cpu or X86_64, 0, 2)
        signed = asked.host.bench.secure_boot
        parts = (_signature(),) if signed else ()
        return Reading("supposed", kind, kind, fields=(machine,), parts=parts, ids=ids, versions=claims)
    return Reading("supposed", kind, kind, parts=_package(asked, kind), ids=ids, versions=claims)


def _image(asked: Asked, kind: str, ids: tuple[CardId, ...]) -> Reading:
    fields = [Field("last_image", True, 0, 1)]
    if ids:
        fields += [Field("vendor_id", ids[0].vendor, 0, 2), Field("device_id", ids[0].device, 0, 2)]
        fields += [Field("class_code", ids[0].class_code, 0, 3)]
    if not kind.endswith("/efi"):
        return Reading("supposed", kind, kind, fields=tuple(fields), ids=ids)
    machine = asked.host.destination.cpu or X86_64
    fields += [Field("efi_machine", machine, 0, 2), Field("efi_subsystem", _EFI_DRIVER, 0, 2)]
    inner = (Field("machine", machine), Field("subsystem", _EFI_DRIVER))
    driver = Reading("supposed", "efi-driver", "driver", fields=inner)
    return Reading("supposed", kind, kind, fields=tuple(fields), parts=(driver,), ids=ids)


def _signature() -> Reading:
    fields = (Field("signature_valid", True), Field("digest_matches", True))
    return Reading("supposed", "signature/authenticode", "signature", fields=fields)


def _package(asked: Asked, kind: str) -> tuple[Reading, ...]:
    """The records or payloads by which a package is for this card and machine."""
    if kind == PACKAGE:
        mode = asked.family.modes.get(asked.route.source_mode)
        ids = mode.ids if mode is not None else ()
        return tuple(
            Reading("supposed", RECORD, "record", fields=(Field("pci_vendor", one.vendor, 0, 2),
                    Field("pci_device", one.device, 0, 2)))
            for one in ids
        )  # fmt: skip
    known = (*(asked.host.bench.resources or ()), *(asked.host.destination.resources or ()))
    if kind != CAPSULE or not known:
        return ()
    fields = (Field("image_type", known[0].type, 0, 16), Field("firmware_version", known[0].lowest, 0, 4))
    return (Reading("supposed", "capsule-payload", "payload", fields=fields),)


def _trusted() -> DriverTrust:
    return DriverTrust("", trusted=SecureBootKey("image-sha256", b"", "the driver supplied", "", 0))
