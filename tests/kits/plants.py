"""Faults planted in sound kits: one or more for each rule, each with exactly what must then be found besides."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from catalogue.families.model import Claim, Withdrawn
from catalogue.shapes.card import CardFacts, Said
from catalogue.shapes.finding import Level
from catalogue.shapes.piece import Beside, Contradiction, Place, Vouch
from catalogue.shapes.reading import Fault, Field, Reading
from catalogue.shapes.results import FileProblem
from tests.kits.world import (
    BITTERN,
    PLOVER,
    Scene,
    bittern,
    found,
    heron,
    image,
    layout_answer,
    named,
    neighbour,
    piece,
    plover,
    rom,
    sha,
)

STOP, CAUTION, NOTE = Level.STOP, Level.CAUTION, Level.NOTE
New = tuple[str, str | None, str | None]


@dataclass(frozen=True)
class Plant:
    """One fault in a sound kit. `make` gives the sound scene, `do` plants the fault and answers the guilty SHA-256.

    `also` are the other findings that come with it; `field` is the evidence's field (its place where there is none).
    """

    code: str
    make: Callable[[], Scene]
    role: str | None
    do: Callable[[Scene], str | None]
    level: Level
    field: str
    clearable: bool = False
    also: tuple[tuple[str, str | None], ...] = ()

    @property
    def name(self) -> str:
        return f"{self.code}-{self.make.__name__}-{self.do.__name__}"


PLANTS: list[Plant] = []


def plant(
    code: str,
    make: Callable[[], Scene],
    role: str | None,
    level: Level,
    field: str,
    *also: tuple[str, str | None],
    clearable: bool = False,
) -> Callable[[Callable[[Scene], str | None]], Callable[[Scene], str | None]]:
    """Register a fault."""

    def keep(do: Callable[[Scene], str | None]) -> Callable[[Scene], str | None]:
        PLANTS.append(Plant(code, make, role, do, level, field, clearable, also))
        return do

    return keep


def alone() -> Scene:
    """The bittern scene without its older firmware, so that nothing can take the newer one's place."""
    scene = bittern()
    del scene.pieces["fw-old"]
    return scene


def empty(role: str) -> tuple[str, str | None]:
    return ("role-empty", role)


def said(scene: Scene, key: str, **what: object) -> str:
    """The piece called `key` with a changed reading."""
    return scene.change(key, reading=replace(scene.pieces[key].reading, **what)).sha256


# --- bytes ------------------------------------------------------------------------------------------------------------


@plant(
    "rom-damaged", plover, "uefi-boot-rom", STOP, "rom-damaged", empty("uefi-boot-rom"), ("left-out", "legacy-boot-rom")
)
def sum_is_wrong(scene: Scene) -> str:
    return said(scene, "rom", faults=(Fault("rom-damaged", "The bytes sum to 01h; they must sum to 00h.", 2),))


@plant("rom-damaged", alone, "legacy-boot-rom", CAUTION, "rom-damaged")
def sum_is_wrong_in_a_digest_of_the_family(scene: Scene) -> str:
    scene.edit_release(0, "legacy-boot-rom", Claim("8.41.0", (), (sha("lb-841"),)))
    return said(scene, "lb", faults=(Fault("rom-damaged", "The bytes sum to 01h.", 2),))


@plant("rom-odd", plover, "uefi-boot-rom", NOTE, "rom-odd", ("rom-odd", "legacy-boot-rom"))
def padding_follows(scene: Scene) -> str:
    return said(scene, "rom", notes=(Fault("rom-odd", "512 bytes of padding follow.", 1024),))


@plant("image-hidden", plover, "uefi-boot-rom", STOP, "last_image", clearable=True)
def last_bit_early(scene: Scene) -> str:
    target = (PLOVER.vendor, PLOVER.second)
    images = (image("legacy-x86", *target, last=True), image("efi", *target, offset=512))
    return said(scene, "rom", parts=images)


@plant("blank", bittern, "eeprom-image", STOP, "bytes", empty("eeprom-image"))
def eeprom_of_ff(scene: Scene) -> str:
    answer = replace(scene.pieces["ee"].layouts["bittern"], state="blank")
    return scene.change("ee", layouts={"bittern": answer}, fill=0xFF).sha256


@plant("blank", alone, "firmware", STOP, "bytes", empty("firmware"))
def firmware_of_zeros(scene: Scene) -> str:
    return scene.change("fw", fill=0x00, matches={}).sha256


@plant("blank", alone, "firmware", STOP, "bytes", empty("firmware"), ("wrong-size", "firmware"))
def firmware_of_nothing(scene: Scene) -> str:
    return scene.change("fw", size=0, matches={}).sha256


@plant("wrong-kind", bittern, "writer", STOP, "looks", empty("writer"))
def web_page(scene: Scene) -> str:
    page = Reading("text", "text", "web page", fields=(Field("looks", "web-page"),))
    return scene.change("writer", kind="text", reading=page).sha256


@plant("wrong-kind", alone, "firmware", STOP, "kind", empty("firmware"))
def note_for_firmware(scene: Scene) -> str:
    return scene.change("fw", kind="text", reading=Reading("text", "text", "note")).sha256


@plant("wrong-kind", alone, "firmware", STOP, "kind", empty("firmware"))
def self_extractor_for_firmware(scene: Scene) -> str:
    inside = Reading("zip", "archive/zip", "zip")
    return scene.change(
        "fw", kind="windows-program", reading=Reading("pe", "windows-program", "", parts=(inside,))
    ).sha256


@plant("wrong-kind", bittern, "writer", STOP, "kind", empty("writer"))
def self_extractor_for_the_writer(scene: Scene) -> str:
    return said(scene, "writer", notes=(Fault("self-extracting", "A zip archive lies behind.", 512),))


@plant("wrong-kind", bittern, "writer", STOP, "kind", empty("writer"))
def nothing_known_for_the_writer(scene: Scene) -> str:
    return scene.change("writer", kind="opaque", reading=Reading("opaque", "opaque", "")).sha256


@plant("wrong-kind", plover, "uefi-boot-rom", STOP, "efi_subsystem", empty("uefi-boot-rom"))
def application_in_the_rom(scene: Scene) -> str:
    target = (PLOVER.vendor, PLOVER.second)
    return said(scene, "rom", parts=(image("legacy-x86", *target, last=False), image("efi", *target, subsystem=10)))


@plant("bytes-swapped", bittern, "eeprom-image", STOP, "magic", empty("eeprom-image"))
def eeprom_swapped(scene: Scene) -> str:
    answer = layout_answer(scene.family.layouts["bittern"], "swapped")
    return scene.change("ee", layouts={"bittern": answer}).sha256


@plant("bytes-swapped", bittern, "eeprom-image", STOP, "magic", empty("eeprom-image"))
def eeprom_twice(scene: Scene) -> str:
    answer = layout_answer(scene.family.layouts["bittern"], "repeated")
    return scene.change("ee", layouts={"bittern": answer}, size=640).sha256


@plant("archive-damaged", bittern, "eeprom-image", STOP, "crc", empty("eeprom-image"))
def member_crc_differs(scene: Scene) -> str:
    return scene.change("ee", member_faults=(Fault("crc", "The member's CRC-32 differs.", 30),)).sha256


@plant("archive-damaged", bittern, "eeprom-image", NOTE, "archive-damaged")
def another_member_is_damaged(scene: Scene) -> str:
    faults = (Fault("archive-damaged", "other.bin: The member's CRC-32 differs.", 30),)
    return scene.change("ee", beside_faults=faults).sha256


@plant("archive-damaged", bittern, "writer", STOP, "encrypted", empty("writer"))
def companion_is_encrypted(scene: Scene) -> str:
    scene.pieces["extender"] = piece("extender", size=900, member_faults=(Fault("encrypted", "It is encrypted."),))
    return sha("extender")


@plant("data-after-end", bittern, "writer", CAUTION, "data-after-end")
def bytes_behind_the_program(scene: Scene) -> str:
    return said(scene, "writer", notes=(Fault("data-after-end", "40 bytes lie behind the program.", 34_000),))


@plant("eeprom-sum", bittern, "eeprom-image", STOP, "sum8", empty("eeprom-image"))
def eeprom_sum_fails(scene: Scene) -> str:
    answer = replace(scene.pieces["ee"].layouts["bittern"], sum_ok=False)
    return scene.change("ee", layouts={"bittern": answer}).sha256


@plant("eeprom-sum", alone, "eeprom-image", CAUTION, "sum8")
def eeprom_sum_fails_in_a_digest_of_the_family(scene: Scene) -> str:
    scene.edit_release(0, "eeprom-image", Claim(sha256=(sha("ee-1"),)))
    return eeprom_sum_fails(scene)


# --- fit --------------------------------------------------------------------------------------------------------------


@plant("name-disagrees", bittern, "firmware", NOTE, "name")
def name_of_an_older_version(scene: Scene) -> str:
    return scene.change("fw", places=(Place("/in/CVFW_11_00_0.BIN"), Place("/in/good.bin"))).sha256


@plant("name-disagrees", bittern, "legacy-boot-rom", NOTE, "name")
def name_of_the_other_mode(scene: Scene) -> str:
    return scene.change("lb", places=(Place("/in/a.zip", ("roms/boot-raid.rom",)),)).sha256


@plant("other-family", bittern, "eeprom-image", STOP, "mode.vendor", empty("eeprom-image"))
def eeprom_of_another_vendor(scene: Scene) -> str:
    answer = layout_answer(scene.family.layouts["bittern"], mode__vendor=0xF999, mode__device=BITTERN.second)
    return scene.change("ee", layouts={"bittern": answer}).sha256


@plant("other-family", bittern, "legacy-boot-rom", STOP, "device_id", ("pin-broken", "legacy-boot-rom"))
def pinned_rom_of_another_vendor(scene: Scene) -> str:
    scene.pieces["lb"] = replace(
        scene.pieces["lb"], reading=rom("x", image("legacy-x86", 0xF999, BITTERN.second)).reading
    )
    scene.pin("legacy-boot-rom", scene.pieces["lb"].sha256)
    return scene.pieces["lb"].sha256


@plant("other-family", bittern, "legacy-boot-rom", STOP, "device_id", ("pin-broken", "legacy-boot-rom"))
def pinned_rom_of_the_half_way_state(scene: Scene) -> str:
    scene.pieces["lb"] = replace(
        scene.pieces["lb"], reading=rom("x", image("legacy-x86", BITTERN.vendor, BITTERN.bare)).reading
    )
    scene.pin("legacy-boot-rom", scene.pieces["lb"].sha256)
    return scene.pieces["lb"].sha256


@plant("other-mode", alone, "firmware", STOP, "has", empty("firmware"))
def firmware_of_the_other_mode(scene: Scene) -> str:
    return scene.change("fw", matches=found(("CVFW {version}", "12.04.0"), "BITTERN RD")).sha256


@plant(
    "other-mode", plover, "uefi-boot-rom", STOP, "device_id", empty("uefi-boot-rom"), ("left-out", "legacy-boot-rom")
)
def rom_of_the_other_mode(scene: Scene) -> str:
    other = (PLOVER.vendor, PLOVER.first)
    said(scene, "rom", parts=(image("efi", *other), image("isa", None)))
    return scene.pieces["rom"].sha256


@plant("other-mode", bittern, "eeprom-image", STOP, "mode.device", empty("eeprom-image"))
def eeprom_of_the_other_mode(scene: Scene) -> str:
    answer = layout_answer(scene.family.layouts["bittern"], mode__vendor=BITTERN.vendor, mode__device=BITTERN.first)
    return scene.change("ee", layouts={"bittern": answer}).sha256


@plant(
    "images-disagree",
    plover,
    "uefi-boot-rom",
    STOP,
    "vendor_id",
    empty("uefi-boot-rom"),
    ("left-out", "legacy-boot-rom"),
)
def legacy_image_of_another_maker(scene: Scene) -> str:
    images = (image("legacy-x86", 0xF999, 1, last=False), image("efi", PLOVER.vendor, PLOVER.second))
    return said(scene, "rom", parts=images)


@plant("images-disagree", alone, "legacy-boot-rom", CAUTION, "vendor_id")
def efi_image_of_another_maker_in_a_digest_of_the_family(scene: Scene) -> str:
    scene.edit_release(0, "legacy-boot-rom", Claim("8.41.0", (), (sha("lb-841"),)))
    images = (image("legacy-x86", BITTERN.vendor, BITTERN.second, last=False), image("efi", 0xF999, 1))
    return said(scene, "lb", parts=images, kind="option-rom")


@plant("fit-unproved", bittern, "uefi-boot-rom", STOP, "criteria", clearable=True)
def pinned_rom_of_vendor_zero(scene: Scene) -> str:
    said(scene, "ub", parts=(image("efi", 0, 0),))
    scene.pin("uefi-boot-rom", scene.pieces["ub"].sha256)
    return scene.pieces["ub"].sha256


@plant("class-differs", bittern, "legacy-boot-rom", CAUTION, "class_code")
def class_of_the_other_mode(scene: Scene) -> str:
    return said(scene, "lb", parts=(image("legacy-x86", BITTERN.vendor, BITTERN.second, code=0x010400),))


@plant("wrong-cpu", plover, "uefi-boot-rom", STOP, "efi_machine", empty("uefi-boot-rom"))
def header_of_another_machine(scene: Scene) -> str:
    target = (PLOVER.vendor, PLOVER.second)
    images = (image("legacy-x86", *target, last=False), image("efi", *target, machine=0x8664, driver=0xAA64))
    return said(scene, "rom", parts=images)


@plant("wrong-size", bittern, "eeprom-image", STOP, "size", empty("eeprom-image"))
def eeprom_one_byte_long(scene: Scene) -> str:
    answer = layout_answer(scene.family.layouts["bittern"], "size")
    return scene.change("ee", layouts={"bittern": answer}, size=321).sha256


@plant("wrong-size", alone, "firmware", STOP, "size", empty("firmware"))
def firmware_too_short(scene: Scene) -> str:
    return scene.change("fw", size=65_535).sha256


@plant("wrong-size", heron, "firmware", STOP, "size", empty("firmware"))
def firmware_too_long_by_one(scene: Scene) -> str:
    return scene.change("fw", size=131_073).sha256


@plant("wrong-size", bittern, "legacy-boot-rom", STOP, "size", ("pin-broken", "legacy-boot-rom"))
def pinned_rom_larger_than_the_flash(scene: Scene) -> str:
    scene.pin("legacy-boot-rom", scene.pieces["lb"].sha256)
    return scene.change("lb", size=8_388_609).sha256


@plant("wrong-size", heron, "eeprom-image", STOP, "size", empty("eeprom-image"))
def named_eeprom_of_no_layout_and_another_size(scene: Scene) -> str:
    return scene.change("ee", layouts={}, size=193).sha256


@plant("wrong-size", bittern, "writer", STOP, "size", empty("writer"))
def program_cut_short(scene: Scene) -> str:
    return said(scene, "writer", faults=(Fault("cut-short", "The header counts 34816 bytes, the file has 20000.", 2),))


@plant("foreign-identity", bittern, "eeprom-image", STOP, "identity.sas", empty("eeprom-image"))
def eeprom_with_an_address(scene: Scene) -> str:
    answer = layout_answer(
        scene.family.layouts["bittern"],
        mode__vendor=BITTERN.vendor,
        mode__device=BITTERN.second,
        identity__sas=0x5F234010_00000042,
    )
    return scene.change("ee", layouts={"bittern": answer}).sha256


@plant("foreign-identity", bittern, "eeprom-image", STOP, "address", empty("eeprom-image"))
def eeprom_with_an_address_elsewhere(scene: Scene) -> str:
    return scene.change("ee", addresses=(Field("address", "5F23401000000042", 0x88, 8),)).sha256


def with_address(scene: Scene, address: int) -> str:
    answer = layout_answer(
        scene.family.layouts["bittern"],
        mode__vendor=BITTERN.vendor,
        mode__device=BITTERN.second,
        identity__sas=address,
    )
    return scene.change("ee", layouts={"bittern": answer}).sha256


def card_with(**shown: str) -> CardFacts:
    """A card whose saved text shows these identities."""
    said = {name: Said(text, "/saved/CARD.TXT", 3) for name, text in shown.items()}
    return CardFacts("/saved/CARD.TXT", 1, mode=BITTERN.source, identities=said)


@plant("foreign-identity", bittern, "eeprom-image", STOP, "identity.sas", empty("eeprom-image"))
def eeprom_of_another_card_than_the_listing_shows(scene: Scene) -> str:
    scene.cards = (card_with(sas="5F234010-00000043"),)
    return with_address(scene, 0x5F234010_00000042)


@plant("foreign-identity", bittern, "eeprom-image", STOP, "identity.sas", empty("eeprom-image"))
def eeprom_of_one_of_two_cards(scene: Scene) -> str:
    scene.cards = (card_with(sas="5F234010-00000042"), card_with(sas="5F234010-00000052"))
    return with_address(scene, 0x5F234010_00000042)


@plant("foreign-identity", bittern, "eeprom-image", STOP, "identity.sas", empty("eeprom-image"))
def eeprom_with_an_address_that_the_listing_does_not_show(scene: Scene) -> str:
    scene.cards = (card_with(serial="CV42"),)
    return with_address(scene, 0x5F234010_00000042)


@plant("foreign-identity", bittern, "eeprom-image", STOP, "address", empty("eeprom-image"))
def eeprom_with_the_address_behind_the_cards_span(scene: Scene) -> str:
    scene.cards = (card_with(sas="5F23401000000042"),)
    return scene.change("ee", addresses=(Field("address", "5F2340100000004A", 0x88, 8),)).sha256


@plant("other-bench", bittern, "writer", STOP, "kind", empty("writer"))
def windows_program(scene: Scene) -> str:
    return scene.change("writer", kind="windows-program", reading=Reading("pe", "windows-program", "")).sha256


@plant("other-bench", heron, "writer", STOP, "kind", empty("writer"))
def dos_program_on_linux(scene: Scene) -> str:
    return scene.change("writer", kind="dos-program", reading=Reading("mz", "dos-program", "")).sha256


@plant("other-bench", bittern, "writer", STOP, "kind", empty("writer"))
def efi_program_where_the_role_knows_no_kind_for_the_bench(scene: Scene) -> str:
    scene.edit_role("writer", kind={"uefi": "efi-application"})
    return scene.change("writer", kind="efi-application", reading=Reading("pe", "efi-application", "")).sha256


@plant("tool-too-old", alone, "writer", STOP, "version", empty("writer"))
def writer_one_step_too_old(scene: Scene) -> str:
    return scene.change("writer", matches=found(("QUAYHAND {version}", "3.09"), "QUAYHAND")).sha256


@plant("tool-too-new", alone, "writer", STOP, "version", ("release-unknown", "writer"), clearable=True)
def writer_one_step_too_new(scene: Scene) -> str:
    return scene.change("writer", matches=found(("QUAYHAND {version}", "4.00"), "QUAYHAND")).sha256


@plant("companion-missing", bittern, "writer", STOP, "beside", empty("writer"))
def extender_gone(scene: Scene) -> str:
    return scene.change("writer", beside=(Beside("readme.txt", sha("readme"), 10, "text"),)).sha256


# --- vouching ---------------------------------------------------------------------------------------------------------

AGAINST = Contradiction("/in/SHA256SUMS", 3, "sha256", sha("wanted"), sha("had"), "piece.bin")
RECORDED = replace(AGAINST, place="/lists/maker.sha256 (from the maker's page)")


@plant("contradicted", alone, "firmware", STOP, "sha256 of piece.bin", empty("firmware"))
def list_speaks_against_the_firmware(scene: Scene) -> str:
    return scene.change("fw", contradictions=(AGAINST,)).sha256


@plant("contradicted", bittern, "writer", STOP, "sha256 of piece.bin", empty("writer"))
def list_speaks_against_the_companion(scene: Scene) -> str:
    scene.pieces["extender"] = piece("extender", size=900, contradictions=(RECORDED,))
    return sha("extender")


@plant("unvouched", bittern, "eeprom-image", STOP, "vouch", clearable=True)
def eeprom_only_agreed(scene: Scene) -> str:
    return scene.change("ee", vouches=(Vouch("agreed", "two archives"), neighbour())).sha256


@plant("unvouched", bittern, "eeprom-image", STOP, "vouch", clearable=True)
def eeprom_named_by_a_crc(scene: Scene) -> str:
    return scene.change("ee", vouches=(named(algorithm="crc32"),)).sha256


@plant("unvouched", alone, "firmware", STOP, "vouch", clearable=True)
def firmware_that_nobody_names(scene: Scene) -> str:
    scene.edit_release(0, "firmware", Claim("12.04.0"))
    return scene.pieces["fw"].sha256


@plant("neighbour-only", bittern, "writer", CAUTION, "vouch")
def writer_with_a_list_beside_it(scene: Scene) -> str:
    return scene.change("writer", vouches=(neighbour(),)).sha256


@plant("neighbour-only", bittern, "writer", CAUTION, "vouch")
def companion_with_a_list_beside_it(scene: Scene) -> str:
    scene.pieces["extender"] = piece("extender", size=900, vouches=(neighbour(),))
    return sha("extender")


@plant("digest-weak", bittern, "eeprom-image", NOTE, "digest")
def eeprom_named_by_md5(scene: Scene) -> str:
    return scene.change("ee", vouches=(named(algorithm="MD5"), named("another page", "sha-1"))).sha256


@plant("same-version-two-contents", plover, "writer", STOP, "sha256", clearable=True)
def second_writer_of_one_version_less_well_vouched(scene: Scene) -> str:
    scene.pieces["second"] = replace(scene.pieces["writer"], sha256=sha("second"), vouches=(neighbour(),))
    return scene.pieces["writer"].sha256


@plant("same-version-two-contents", plover, "writer", NOTE, "sha256")
def second_writer_differs_in_padding(scene: Scene) -> str:
    scene.change("writer", trimmed=sha("bare"))
    scene.pieces["second"] = replace(scene.pieces["writer"], sha256=sha("second"), size=8192)
    return scene.pieces["writer"].sha256


# --- companions -------------------------------------------------------------------------------------------------------


@plant("blank", bittern, "writer", STOP, "bytes", empty("writer"))
def companion_of_nothing(scene: Scene) -> str:
    beside = (replace(scene.pieces["writer"].beside[0], size=0),)
    scene.change("writer", beside=beside)
    return sha("extender")


@plant("blank", bittern, "writer", STOP, "bytes", empty("writer"))
def companion_of_zeros(scene: Scene) -> str:
    scene.pieces["extender"] = piece("extender", size=900, fill=0x00)
    return sha("extender")


@plant("wrong-kind", bittern, "writer", STOP, "looks", empty("writer"))
def web_page_for_the_companion(scene: Scene) -> str:
    page = Reading("text", "text", "web page", fields=(Field("looks", "web-page"),))
    scene.pieces["extender"] = piece("extender", "text", size=900, reading=page)
    return sha("extender")


@plant("withdrawn", bittern, "writer", STOP, "withdrawn", clearable=True)
def companion_taken_back(scene: Scene) -> str:
    scene.edit(withdrawn=(Withdrawn("writer", None, sha("extender"), "loses its place", "notice 18"),))
    return sha("extender")


# --- versions and releases --------------------------------------------------------------------------------------------


@plant("version-unread", bittern, "uefi-boot-rom", CAUTION, "version")
def no_version_string(scene: Scene) -> str:
    scene.edit_role("uefi-boot-rom", version="CVUB {version}")
    return scene.pieces["ub"].sha256


@plant("version-unread", plover, "firmware", CAUTION, "version", ("release-unknown", "firmware"))
def version_that_the_order_cannot_place(scene: Scene) -> str:
    """Two parts only: no version by semver.org 2.0.0, clause 2, so no bound can be held against it."""
    pattern, mode = scene.pieces["fw"].matches
    scene.edit_role("firmware", lowest="9.0.0")
    return scene.change("fw", matches=found((pattern, "8.9"), mode)).sha256


@plant("release-unknown", alone, "eeprom-image", CAUTION, "release")
def eeprom_of_no_release(scene: Scene) -> str:
    scene.edit_release(0, "eeprom-image", Claim(sha256=(sha("the maker's"),)))
    return scene.pieces["ee"].sha256


@plant("below-lowest", alone, "firmware", STOP, "version", empty("firmware"))
def firmware_under_the_lowest(scene: Scene) -> str:
    scene.edit_role("firmware", lowest="12.04.1")
    return scene.pieces["fw"].sha256


@plant("stale", bittern, "firmware", CAUTION, "version", ("left-out", "legacy-boot-rom"))
def only_the_older_firmware(scene: Scene) -> str:
    del scene.pieces["fw"]
    return scene.pieces["fw-old"].sha256


@plant("stale", heron, "firmware", CAUTION, "version")
def digest_of_an_older_release(scene: Scene) -> str:
    newer = replace(scene.family.releases[0], name="autumn", date=date(2025, 10, 1), claims={
        "firmware": Claim(sha256=(sha("newer"),)),
    })  # fmt: skip
    scene.edit(releases=(*scene.family.releases, newer))
    return scene.pieces["fw"].sha256


@plant("withdrawn", alone, "firmware", STOP, "withdrawn", clearable=True)
def version_taken_back(scene: Scene) -> str:
    scene.edit(withdrawn=(Withdrawn("firmware", "12.4", None, "drops its link", "notice 15"),))
    return scene.pieces["fw"].sha256


@plant("withdrawn", bittern, "eeprom-image", STOP, "withdrawn", clearable=True)
def digest_taken_back(scene: Scene) -> str:
    scene.edit(withdrawn=(Withdrawn("eeprom-image", None, sha("ee-1").upper(), "wrong mode", "notice 16"),))
    return scene.pieces["ee"].sha256


@plant("beyond-known", alone, "firmware", CAUTION, "version", ("release-unknown", "firmware"))
def pinned_version_99(scene: Scene) -> str:
    scene.pieces["fw"] = piece(
        "fw-99", size=524_288, matches=found(("CVFW {version}", "99.0"), "BITTERN PT"), vouches=(named(),)
    )
    scene.pin("firmware", sha("fw-99"))
    return sha("fw-99")


# --- the kit ----------------------------------------------------------------------------------------------------------


@plant("role-empty", bittern, "eeprom-image", STOP, "role")
def no_eeprom_image(scene: Scene) -> None:
    del scene.pieces["ee"]


@plant("role-empty", alone, "firmware", STOP, "missed by", ("beyond-known", "firmware"))
def only_a_version_beyond(scene: Scene) -> None:
    del scene.pieces["fw"]
    scene.pieces["99"] = piece(
        "fw-99", size=524_288, matches=found(("CVFW {version}", "99.0"), "BITTERN PT"), vouches=(named(),)
    )


@plant("left-out", bittern, "uefi-boot-rom", NOTE, "role")
def no_uefi_boot_rom(scene: Scene) -> None:
    del scene.pieces["ub"]


@plant("left-out", bittern, "legacy-boot-rom", NOTE, "missed by")
def legacy_boot_rom_that_nobody_names(scene: Scene) -> None:
    scene.change("lb", vouches=())


@plant("left-out", bittern, "uefi-boot-rom", NOTE, "missed by")
def optional_roms_tie(scene: Scene) -> None:
    scene.pieces["second"] = replace(scene.pieces["ub"], sha256=sha("second"))


@plant("ambiguous", bittern, "eeprom-image", STOP, "sha256", ("ambiguous", "eeprom-image"), clearable=True)
def two_eeprom_images(scene: Scene) -> str:
    scene.pieces["second"] = replace(scene.pieces["ee"], sha256=sha("second"))
    return scene.pieces["ee"].sha256


@plant("ambiguous", bittern, "writer", STOP, "QHXTEND.BIN", ("ambiguous", "writer"), clearable=True)
def two_extenders(scene: Scene) -> str:
    both = (*scene.pieces["writer"].beside, Beside("qhxtend.bin", sha("extender 2"), 901, "opaque"))
    scene.change("writer", beside=both)
    return sha("extender 2")


@plant("pin-broken", bittern, "eeprom-image", STOP, "pin")
def pin_on_what_is_gone(scene: Scene) -> str:
    scene.pin("eeprom-image", sha("gone"))
    return sha("gone")


@plant("pin-broken", bittern, "notes", STOP, "pin")
def pin_on_a_role_the_route_has_not(scene: Scene) -> str:
    scene.pin("notes", sha("ee-1"))
    return sha("ee-1")


@plant("pin-broken", bittern, "writer", STOP, "pin")
def two_pins_for_one_role(scene: Scene) -> str:
    scene.pin("writer", sha("writer-312"))
    scene.pin("writer", sha("ee-1"))
    return sha("writer-312")


@plant("mixed-release", bittern, "firmware", STOP, "release", ("stale", "firmware"), clearable=True)
def needed_pieces_of_two_releases(scene: Scene) -> str:
    scene.edit_route(needs=(*scene.family.routes[0].needs, "legacy-boot-rom"), may=("uefi-boot-rom",))
    del scene.pieces["fw"]
    return scene.pieces["fw-old"].sha256


@plant("mixed-release", bittern, "firmware", CAUTION, "release", ("stale", "firmware"))
def needed_pieces_of_two_releases_that_may_mix(scene: Scene) -> str:
    scene.edit(releases=tuple(replace(one, mix="caution") for one in scene.family.releases))
    return needed_pieces_of_two_releases(scene)


@plant("never-ran", bittern, None, CAUTION, "route")
def first_kit_of_the_route(scene: Scene) -> None:
    scene.route_ran = False


@plant("not-checked", bittern, None, CAUTION, "unchecked")
def route_that_cannot_read_back(scene: Scene) -> None:
    scene.edit_route(unchecked=("flash", "serial"))


@plant("family-unsettled", bittern, None, STOP, "settled")
def family_that_nobody_accepted(scene: Scene) -> None:
    scene.edit(settled=False)


@plant("family-unsettled", bittern, None, STOP, "law")
def family_that_breaks_a_law(scene: Scene) -> None:
    scene.edit(settled=False, problems=(FileProblem(scene.family.file, 71, "sas is destroyed before it is learned"),))


@plant("family-unsettled", bittern, None, STOP, "law")
def family_with_a_problem_that_says_it_is_settled(scene: Scene) -> None:
    scene.edit(problems=(FileProblem(scene.family.file, 71, "sas is destroyed before it is learned"),))


@plant("knowledge-old", bittern, None, NOTE, "as_of")
def knowledge_of_a_year_and_a_day(scene: Scene) -> None:
    scene.today = date(2027, 3, 2)


def taught() -> Scene:
    """The bittern scene with a family that teaches all that any rule asks for."""
    scene = alone()
    claim = {"uefi-boot-rom": Claim("1.00"), "eeprom-image": Claim(sha256=(sha("ee-1"),))}
    first = scene.family.releases[0]
    scene.edit(releases=(replace(first, claims={**first.claims, **claim}),))
    scene.edit_role("legacy-boot-rom", lowest="1.0")
    scene.edit_role("uefi-boot-rom", lowest="1.0", version="CVUB {version}")
    scene.change("ub", matches=found(("CVUB {version}", "1.00")))
    return scene


@plant("not-taught", taught, None, NOTE, "below-lowest")
def family_without_a_lowest(scene: Scene) -> None:
    scene.edit_role("firmware", lowest=None)


@plant("not-taught", taught, None, NOTE, "wrong-size")
def family_without_sizes(scene: Scene) -> None:
    scene.edit(card=replace(scene.family.card, flash=None))


@plant("not-taught", taught, None, NOTE, "class-differs")
def family_without_classes(scene: Scene) -> None:
    scene.edit(modes={name: replace(one, class_code=None) for name, one in scene.family.modes.items()})


@plant("not-taught", taught, None, NOTE, "eeprom-sum")
def layout_without_a_sum(scene: Scene) -> None:
    scene.edit(layouts={name: replace(one, sum=None) for name, one in scene.family.layouts.items()})


@plant("not-taught", taught, None, NOTE, "foreign-identity")
def layout_without_identities(scene: Scene) -> None:
    layouts = {
        name: replace(one, fields=tuple(field for field in one.fields if field.means.startswith("mode.")))
        for name, one in scene.family.layouts.items()
    }
    scene.edit(layouts=layouts, identities={})


@plant("not-taught", taught, None, NOTE, "other-mode")
def firmware_of_which_nothing_tells_the_mode(scene: Scene) -> None:
    scene.edit_role("firmware", has={})


@plant("not-taught", taught, None, NOTE, "tool-too-old, tool-too-new")
def writer_without_bounds(scene: Scene) -> None:
    scene.edit_release(0, "writer", Claim("3.12"))
