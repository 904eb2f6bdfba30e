"""Faults that only a host's facts, or a signature, make: planted in sound kits like those of `plants`.

Secure Boot's order (dbx before db, digest or chain) is that of the UEFI Specification, section 32.5.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from catalogue.families.model import IdPattern, Key, Mode, Revision
from catalogue.shapes.card import CardFacts, Said
from catalogue.shapes.host import DriverTrust, Machine, Resource, SecureBootKey
from catalogue.shapes.piece import SignatureCheck
from catalogue.shapes.reading import Fault, Field, FieldValue, Reading
from tests.kits.plants import CAUTION, NOTE, PLANTS, STOP, Plant, alone, empty, plant, said
from tests.kits.world import BITTERN, PLOVER, Scene, bittern, image, machine, named, piece, plover, sha

__all__ = ["PLANTS", "Plant"]
LACKS_ROM = (empty("uefi-boot-rom"), ("left-out", "legacy-boot-rom"))
TARGET = (PLOVER.vendor, PLOVER.second)
DB = SecureBootKey("certificate", b"der", "Saltmarsh Machines CA", "/hosts/db.esl", 44)
GUID = "F2340011-0001-4002-8003-000000000064"


def signature(*, holds: bool = True, faults: tuple[Fault, ...] = ()) -> Reading:
    """One signature as the PE reader gives it."""
    fields: dict[str, FieldValue] = {
        "signed_digest": "aa", "image_digest": "aa" if holds else "bb", "digest_matches": holds,
        "signature_valid": True, "subject": "Brinewell releases", "issuer": "Harbour CA",
        "certificate_sha256": sha("signer"), "chain_issuers": ("Harbour CA", "Harbour Root"),
    }  # fmt: skip
    made = tuple(Field(name, value, 4_000) for name, value in fields.items())
    return Reading("authenticode", "signature/authenticode", "Signature by Brinewell releases", 4_000, 600, made,
                   faults=faults)  # fmt: skip


def sign(scene: Scene, *signatures: Reading) -> str:
    """The joined ROM with a signed driver."""
    efi = image("efi", *TARGET, offset=512)
    driver = replace(efi.parts[0], parts=signatures)
    images = (image("legacy-x86", *TARGET, last=False), replace(efi, parts=(driver,)))
    return said(scene, "rom", parts=images)


def destination(scene: Scene, **facts: object) -> None:
    scene.host = replace(scene.host, destination=machine(**facts))


def bench(scene: Scene, **facts: object) -> None:
    scene.host = replace(scene.host, bench=machine(**facts))


def trust(scene: Scene, **facts: SecureBootKey) -> str:
    return scene.change("rom", trust={512: DriverTrust(sha("image"), (), **facts)}).sha256


# --- signatures -------------------------------------------------------------------------------------------------------

BROKEN = Fault("signature-broken", "The image's bytes are not those that were signed: their digests differ.", 4_100)


@plant("signature-broken", plover, "uefi-boot-rom", STOP, "signed_digest", *LACKS_ROM)
def driver_changed_after_it_was_signed(scene: Scene) -> str:
    return sign(scene, signature(holds=False, faults=(BROKEN,)))


@plant("signature-broken", plover, "uefi-boot-rom", STOP, "signed_digest", *LACKS_ROM)
def one_of_two_signatures_broken(scene: Scene) -> str:
    return sign(scene, signature(), signature(holds=False, faults=(BROKEN,)))


@plant("signature-broken", plover, "writer", STOP, "signed_digest", empty("writer"))
def writer_changed_after_it_was_signed(scene: Scene) -> str:
    return said(scene, "writer", parts=(signature(holds=False, faults=(BROKEN,)),))


@plant("signature-broken", alone, "firmware", STOP, "signed_digest", empty("firmware"))
def payload_of_a_capsule_changed(scene: Scene) -> str:
    payload = Reading("capsule-payload", "capsule-payload", "Payload 0", parts=(
        replace(signature(), kind="signature/capsule", faults=(BROKEN,)),))  # fmt: skip
    return said(scene, "fw", parts=(payload,))


def check(state: str) -> SignatureCheck:
    """What a recorded key says of a signature beside a piece."""
    return SignatureCheck("/in/fw-12.sig", state, "Corvane releases (0123456789ABCDEF)", "the maker's page", "Other.")


@plant("signature-broken", alone, "firmware", STOP, "signature", empty("firmware"))
def signature_of_other_bytes_beside_it(scene: Scene) -> str:
    return scene.change("fw", signatures=(check("broken"),)).sha256


@plant("signature-broken", alone, "writer", STOP, "signature", empty("writer"))
def signature_of_other_bytes_beside_the_companion(scene: Scene) -> str:
    extender = piece("extender", size=900, signatures=(check("unproved"), check("broken")), vouches=(named(),))
    scene.pieces["extender"] = extender
    return extender.sha256


@plant("driver-unsigned", plover, "uefi-boot-rom", STOP, "signed_by", clearable=True)
def secure_boot_is_on(scene: Scene) -> str:
    destination(scene, secure_boot=True)
    return scene.pieces["rom"].sha256


@plant("driver-unsigned", plover, "uefi-boot-rom", CAUTION, "secure_boot")
def secure_boot_is_not_told(scene: Scene) -> str:
    destination(scene, secure_boot=None)
    return scene.pieces["rom"].sha256


@plant("driver-unsigned", plover, "uefi-boot-rom", STOP, "signed_by", clearable=True)
def signature_that_cannot_be_checked(scene: Scene) -> str:
    destination(scene, secure_boot=True)
    one = signature()
    unchecked = tuple(replace(f, value=None) if f.name == "signature_valid" else f for f in one.fields)
    return sign(scene, replace(one, fields=unchecked))


@plant("driver-unsigned", plover, "uefi-boot-rom", CAUTION, "padding")
def signed_driver_with_padding_behind_it(scene: Scene) -> str:
    destination(scene, secure_boot=True, db=(DB,))
    efi = image("efi", *TARGET, offset=512)
    padding = Fault("padding-not-signed", "Padding stands behind the signed image.", 900)
    driver = replace(efi.parts[0], parts=(signature(),), notes=(padding,))
    said(scene, "rom", parts=(image("legacy-x86", *TARGET, last=False), replace(efi, parts=(driver,))))
    return trust(scene, trusted=DB)


@plant("driver-other-ca", plover, "uefi-boot-rom", STOP, "signed_by", clearable=True)
def db_holds_another_authority(scene: Scene) -> str:
    destination(scene, secure_boot=True, db=(DB,))
    sign(scene, signature())
    return trust(scene)


@plant("driver-other-ca", plover, "uefi-boot-rom", CAUTION, "signed_by")
def db_is_not_told(scene: Scene) -> str:
    destination(scene, secure_boot=True)
    return sign(scene, signature())


@plant("driver-other-ca", plover, "uefi-boot-rom", CAUTION, "signed_by")
def db_holds_another_and_secure_boot_is_not_told(scene: Scene) -> str:
    destination(scene, secure_boot=None, db=(DB,))
    sign(scene, signature())
    return trust(scene)


@plant("driver-revoked", plover, "uefi-boot-rom", STOP, "image-sha256", clearable=True)
def dbx_names_the_driver(scene: Scene) -> str:
    destination(scene, secure_boot=True, db=(DB,), dbx=(DB,))
    sign(scene, signature())
    entry = SecureBootKey("image-sha256", bytes(32), "00" * 32, "/hosts/dbx.esl", 44)
    return trust(scene, trusted=DB, revoked=entry)


@plant("key-withdrawn", plover, "writer", STOP, "certificate_sha256", clearable=True)
def signed_by_a_revoked_key(scene: Scene) -> str:
    scene.edit(keys=(Key("Brinewell releases", sha("signer"), date(2026, 5, 1)),))
    return said(scene, "writer", parts=(signature(),))


# --- machines ---------------------------------------------------------------------------------------------------------


@plant("wrong-cpu", plover, "uefi-boot-rom", STOP, "efi_machine", empty("uefi-boot-rom"))
def destination_of_another_processor(scene: Scene) -> str:
    destination(scene, cpu=0xAA64)
    return scene.pieces["rom"].sha256


@plant("wrong-cpu", plover, "uefi-boot-rom", CAUTION, "efi_machine")
def byte_code_alone(scene: Scene) -> str:
    efi = image("efi", *TARGET, offset=512, machine=0x0EBC)
    return said(scene, "rom", parts=(image("legacy-x86", *TARGET, last=False), efi))


@plant("bench-refuses", plover, "writer", STOP, "secure_boot", clearable=True)
def unsigned_program_under_secure_boot(scene: Scene) -> str:
    bench(scene, secure_boot=True)
    return scene.pieces["writer"].sha256


@plant("bench-refuses", plover, "writer", CAUTION, "secure_boot")
def unsigned_program_and_secure_boot_not_told(scene: Scene) -> str:
    bench(scene, secure_boot=None)
    return scene.pieces["writer"].sha256


@plant("bench-refuses", plover, "writer", STOP, "cpu", clearable=True)
def efi_program_of_another_processor(scene: Scene) -> str:
    return said(scene, "writer", fields=(Field("machine", 0xAA64, 132, 2),))


@plant("bench-refuses", bittern, "writer", STOP, "boots", clearable=True)
def dos_on_a_bench_that_starts_by_uefi_alone(scene: Scene) -> str:
    bench(scene, boots=frozenset({"uefi"}))
    return scene.pieces["writer"].sha256


@plant("bench-refuses", bittern, "writer", STOP, "cpu", clearable=True)
def dos_on_a_bench_of_another_processor(scene: Scene) -> str:
    bench(scene, cpu=0xAA64)
    return scene.pieces["writer"].sha256


# --- packages ---------------------------------------------------------------------------------------------------------


def record(**values: int) -> Reading:
    fields = tuple(Field(name, value, 60, 2) for name, value in values.items())
    return Reading("pldm-record", "pldm-device-record", "Record of device 0", 40, 40, fields)


@plant("package-no-match", alone, "firmware", STOP, "pci_device", empty("firmware"))
def package_for_another_device(scene: Scene) -> str:
    package = Reading("pldm", "pldm-package", "Package", parts=(record(pci_vendor=BITTERN.vendor, pci_device=0x0BAD),))
    return scene.change("fw", kind="pldm-package", reading=package).sha256


@plant("package-no-match", alone, "firmware", STOP, "pci_device", empty("firmware"))
def package_for_the_mode_the_card_goes_to(scene: Scene) -> str:
    one = record(pci_vendor=BITTERN.vendor, pci_device=BITTERN.second)
    return scene.change("fw", kind="pldm-package", reading=Reading("pldm", "pldm-package", "P", parts=(one,))).sha256


def capsule(scene: Scene, version: int = 9) -> str:
    fields = (Field("image_type", GUID, 64, 16), Field("firmware_version", version, 100, 4))
    payload = Reading("capsule-payload", "capsule-payload", "Payload 0", 60, 900, fields)
    reading = Reading("capsule", "capsule", "Capsule", parts=(payload,))
    return scene.change("fw", kind="capsule", reading=reading).sha256


def resource(**facts: object) -> Machine:
    place = "/hosts/esrt.bin, offset 16"
    one = {"type": GUID, "version": 8, "lowest": 5, "last_version": 8, "status": 0, "place": place}
    return machine(resources=(Resource(**{**one, **facts}),))  # type: ignore[arg-type]


@plant("package-no-match", alone, "firmware", STOP, "image_type", empty("firmware"))
def capsule_that_no_firmware_knows(scene: Scene) -> str:
    scene.host = replace(scene.host, destination=resource(type="F2340099-0001-4002-8003-000000000064"))
    return capsule(scene)


@plant("below-lowest", alone, "firmware", STOP, "lowest_supported_fw_version", empty("firmware"))
def capsule_under_the_lowest_of_the_esrt(scene: Scene) -> str:
    scene.host = replace(scene.host, bench=resource(lowest=10))
    return capsule(scene)


@plant("last-attempt-failed", alone, "firmware", CAUTION, "last_attempt_status")
def last_update_failed(scene: Scene) -> str:
    scene.host = replace(scene.host, destination=resource(status=5))
    return capsule(scene)


# --- what the card shows ----------------------------------------------------------------------------------------------


def card(**facts: object) -> CardFacts:
    """One adapter of a saved text."""
    return CardFacts("/saved/CARD.TXT", 3, **facts)  # type: ignore[arg-type]


def line(text: str, number: int = 4) -> Said:
    return Said(text, "/saved/CARD.TXT", number)


@plant("wrong-start", bittern, None, STOP, "mode")
def card_in_a_third_mode(scene: Scene) -> None:
    scene.edit(modes={**scene.family.modes, "plain": Mode("plain", (IdPattern(BITTERN.vendor, 0x0C99),))})
    scene.cards = (card(mode="plain", shown=(line("F234:0C99"),)),)


@plant("wrong-start", bittern, None, STOP, "version")
def card_below_the_stepping_version(scene: Scene) -> None:
    scene.edit_route(stepping_least="9.00.0")
    scene.cards = (card(mode=BITTERN.source, versions={"firmware": line("8.99.9")}),)


@plant("wrong-start", bittern, None, NOTE, "mode")
def card_converted_already(scene: Scene) -> None:
    scene.cards = (card(mode=BITTERN.target, shown=(line("F234:0C81"),)),)


@plant("wrong-start", bittern, None, NOTE, "mode")
def card_half_way(scene: Scene) -> None:
    scene.cards = (card(state="bare", shown=(line("F234:0C8F"),)),)


@plant("wrong-revision", bittern, None, STOP, "revision")
def board_that_is_not_allowed(scene: Scene) -> None:
    scene.edit(card=replace(scene.family.card, revision=Revision("Board issue ~ {value}", ("C", "D"))))
    scene.cards = (card(mode=BITTERN.source, revision=line("B")),)


def package(scene: Scene, *revisions: int | None) -> str:
    """A package whose records are for the card as it shows itself, with these PCI revisions."""
    ids = {"pci_vendor": BITTERN.vendor, "pci_device": BITTERN.first}
    parts = tuple(record(**ids, **({} if one is None else {"pci_revision": one})) for one in revisions)
    return scene.change("fw", kind="pldm-package", reading=Reading("pldm", "pldm-package", "P", parts=parts)).sha256


@plant("wrong-revision", alone, "firmware", STOP, "pci_revision")
def package_for_another_revision_of_the_controller(scene: Scene) -> str:
    scene.cards = (card(mode=BITTERN.source, pci_revision=line("03")),)
    return package(scene, 0x05, 0x06)


@plant("older-than-card", bittern, "firmware", CAUTION, "version")
def card_runs_something_newer(scene: Scene) -> str:
    scene.cards = (card(mode=BITTERN.source, versions={"firmware": line("12.05.0")}),)
    return scene.of("firmware").sha256
