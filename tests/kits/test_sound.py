"""Sound kits that must stay ready: the list of judging.md as far as it is judged here, and the "not" column."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from catalogue.families.model import ANY_BENCH, ANY_MODE, Claim, IdPattern, Key, Mode, Revision, Withdrawn
from catalogue.shapes.finding import Level
from catalogue.shapes.layout import LayoutField
from catalogue.shapes.piece import Beside, Place, Vouch
from catalogue.shapes.reading import Fault, Field, Reading
from tests.kits import host_plants
from tests.kits.plants import alone, card_with, taught, with_address
from tests.kits.world import (
    BITTERN,
    PLOVER,
    SCENES,
    Scene,
    bittern,
    choice,
    chosen,
    found,
    heron,
    image,
    layout_answer,
    named,
    piece,
    plover,
    rom,
    sha,
)

SOUND: list[tuple[Callable[[], Scene], Callable[[Scene], None], tuple[str, ...]]] = []


def sound(make: Callable[[], Scene], *absent: str) -> Callable[[Callable[[Scene], None]], Callable[[Scene], None]]:
    """A change that leaves the kit ready, with the codes that must not fire for it."""

    def keep(do: Callable[[Scene], None]) -> Callable[[Scene], None]:
        SOUND.append((make, do, absent))
        return do

    return keep


def parts(scene: Scene, key: str, *images: Reading) -> None:
    scene.change(key, reading=replace(scene.pieces[key].reading, parts=images))


TARGET = (BITTERN.vendor, BITTERN.second)
NETWORK = (PLOVER.vendor, PLOVER.second)


@sound(bittern, "fit-unproved", "other-family", "left-out")
def vendor_zero_with_a_named_digest(scene: Scene) -> None:
    scene.edit_release(0, "uefi-boot-rom", Claim("1.0", (), (sha("ub-1"),)))
    parts(scene, "ub", image("efi", 0, 0))


@sound(plover, "rom-damaged")
def last_bit_missing_and_ff_tail(scene: Scene) -> None:
    odd = (Fault("rom-odd", "No image follows, yet the last-image bit is not set.", 1), Fault("rom-odd", "padding", 2))
    scene.change("rom", reading=replace(scene.pieces["rom"].reading, notes=odd))


@sound(heron, "rom-damaged", "wrong-kind", "fit-unproved")
def isa_rom(scene: Scene) -> None:
    scene.edit_role("firmware", kind={ANY_BENCH: "option-rom/isa"})
    scene.change("fw", kind="option-rom/isa", reading=rom("heron-fw", image("isa", None)).reading)


@sound(plover, "wrong-cpu", "images-disagree")
def rom_for_several_cpus(scene: Scene) -> None:
    efi = [image("efi", *NETWORK, machine=machine, last=machine == 0xAA64) for machine in (0x14C, 0x8664, 0xAA64)]
    parts(scene, "rom", image("legacy-x86", *NETWORK, last=False), *efi)


@sound(plover, "wrong-cpu")
def compressed_driver_is_not_read(scene: Scene) -> None:
    parts(scene, "rom", image("legacy-x86", *NETWORK, last=False), replace(image("efi", *NETWORK), parts=()))


@sound(plover, "other-family", "other-mode", "fit-unproved")
def efi_image_of_revision_0_shares_the_list_of_the_legacy_one(scene: Scene) -> None:
    old = (PLOVER.vendor, PLOVER.bare)
    parts(scene, "rom", image("legacy-x86", *old, (PLOVER.second,), last=False), image("efi", *old))


@sound(plover, "images-disagree", "rom-damaged")
def image_of_vendor_zero_beside_the_needed_one(scene: Scene) -> None:
    parts(
        scene,
        "rom",
        image("open-firmware", 0, 0, last=False),
        image("legacy-x86", *NETWORK, last=False),
        image("efi", *NETWORK),
    )


@sound(plover, "images-disagree", "other-mode")
def another_image_for_another_device_of_the_vendor(scene: Scene) -> None:
    images = (
        image("legacy-x86", *NETWORK, last=False),
        image("efi", PLOVER.vendor, PLOVER.first, last=False),
        image("efi", *NETWORK),
    )
    parts(scene, "rom", *images)


@sound(plover, "image-hidden")
def another_image_is_hidden(scene: Scene) -> None:
    images = (image("legacy-x86", *NETWORK, last=False), image("efi", *NETWORK), image("open-firmware", *NETWORK))
    parts(scene, "rom", *images)


@sound(plover, "wrong-kind")
def an_application_beside_the_driver(scene: Scene) -> None:
    other = (PLOVER.vendor, PLOVER.first)
    images = (
        image("legacy-x86", *NETWORK, last=False),
        image("efi", *other, last=False, subsystem=10),
        image("efi", *NETWORK),
    )
    parts(scene, "rom", *images)


@sound(bittern, "wrong-start", "wrong-revision", "older-than-card")
def card_as_it_should_be(scene: Scene) -> None:
    scene.edit(card=replace(scene.family.card, revision=Revision("Board issue ~ {value}", ("C", "D"))))
    scene.edit_route(stepping_least="9.00.0")
    versions = {"firmware": host_plants.line("9.0")}
    scene.cards = (host_plants.card(mode=BITTERN.source, revision=host_plants.line("c"), versions=versions),)


@sound(bittern, "wrong-start", "wrong-revision", "older-than-card")
def card_that_tells_nothing(scene: Scene) -> None:
    scene.edit_route(stepping_least="9.00.0")
    scene.cards = (host_plants.card(),)


@sound(plover, "driver-unsigned", "driver-other-ca")
def driver_in_the_db_by_its_digest(scene: Scene) -> None:
    host_plants.destination(scene, secure_boot=True, db=(host_plants.DB,))
    entry = replace(host_plants.DB, kind="image-sha256", value=bytes(32))
    host_plants.trust(scene, trusted=entry)


@sound(plover, "driver-unsigned", "driver-other-ca", "signature-broken")
def driver_under_an_expired_authority_of_the_db(scene: Scene) -> None:
    host_plants.destination(scene, secure_boot=True, db=(host_plants.DB,))
    host_plants.sign(scene, host_plants.signature())
    host_plants.trust(scene, trusted=host_plants.DB)


@sound(plover, "driver-unsigned", "driver-revoked")
def machine_that_starts_by_legacy_ways_alone(scene: Scene) -> None:
    host_plants.destination(scene, boots=frozenset({"legacy"}), secure_boot=None, cpu=0xAA64)


@sound(plover, "wrong-cpu")
def one_driver_of_several_is_for_the_destination(scene: Scene) -> None:
    host_plants.destination(scene, cpu=0xAA64)
    target = (PLOVER.vendor, PLOVER.second)
    parts(
        scene, "rom", image("legacy-x86", *target, last=False), image("efi", *target, last=False, offset=512),
        image("efi", *target, offset=1024, machine=0xAA64),
    )  # fmt: skip


@sound(bittern, "package-no-match", "other-mode")
def package_for_the_mode_the_card_shows_before(scene: Scene) -> None:
    one = host_plants.record(pci_vendor=BITTERN.vendor, pci_device=BITTERN.first, pci_subsystem=0)
    package = Reading("pldm", "pldm-package", "Package", parts=(one,))
    scene.change("fw", kind="pldm-package", reading=package)


@sound(bittern, "package-no-match", "below-lowest", "last-attempt-failed")
def capsule_whose_type_the_esrt_knows(scene: Scene) -> None:
    scene.host = replace(scene.host, destination=host_plants.resource(lowest=9))
    host_plants.capsule(scene)


@sound(bittern, "other-family", "other-mode")
def the_brands_subsystem_ids_and_oui(scene: Scene) -> None:
    layout = scene.family.layouts["bittern"]
    fields = (
        *layout.fields,
        LayoutField(0x20, "u16le", 2, "mode.subvendor"),
        LayoutField(0x22, "u16le", 2, "mode.subdevice"),
    )
    layout = replace(layout, fields=fields)
    scene.edit(layouts={"bittern": layout})
    answer = layout_answer(
        layout, mode__vendor=TARGET[0], mode__device=TARGET[1], mode__subvendor=0xF777, mode__subdevice=1
    )
    scene.change("ee", layouts={"bittern": answer})


@sound(bittern, "other-family")
def one_of_several_subsystems(scene: Scene) -> None:
    the_brands_subsystem_ids_and_oui(scene)
    ids = (IdPattern(*TARGET, 0xF111, 1), IdPattern(*TARGET, 0xF777, 1))
    scene.edit(modes={**scene.family.modes, "pass": Mode("pass", ids)})


def versions(text: str) -> Callable[[Scene], None]:
    def change(scene: Scene) -> None:
        scene.edit_role("firmware", lowest="9.0")
        scene.edit_release(0, "firmware", Claim("21.00.05", ("15000500h",)))
        scene.change("fw", matches=found(("CVFW {version}", text), "BITTERN PT"), vouches=(named(),))

    change.__name__ = f"version_written_{text}"
    return change


for form in ("21.00.05", "21.0.5", "15000500h", "15000500", "0x15000500"):
    sound(alone, "release-unknown", "beyond-known", "stale", "below-lowest", "version-unread")(versions(form))


@sound(bittern, "pin-broken", "mixed-release")
def a_necessary_downgrade(scene: Scene) -> None:
    scene.pin("firmware", sha("fw-11"))
    scene.change("lb", matches=found(("CVLB {version}", "8.30.0")))


@sound(bittern, "other-bench", "wrong-kind")
def mz_le_utility(scene: Scene) -> None:
    reading = Reading("dos-program", "dos-program", "DOS-extended program (MZ, LE)")
    scene.change("writer", reading=reading)


@sound(bittern, "other-bench", "wrong-kind")
def com_utility(scene: Scene) -> None:
    places = (Place("/in/tool.zip", ("QH.COM",)),)
    scene.change("writer", kind="opaque", reading=Reading("opaque", "opaque", ""), places=places, size=4_000)


@sound(heron, "unvouched")
def digest_vouching_the_outer_archive_only(scene: Scene) -> None:
    scene.edit_release(0, "writer", Claim("1.0-2", (), ()))
    scene.edit_release(0, "eeprom-image", Claim(sha256=(sha("bundle.zip"),)))
    scene.change("ee", within=(sha("inner.zip"), sha("bundle.zip")))


@sound(bittern, "unvouched")
def archive_named_by_a_recorded_list(scene: Scene) -> None:
    scene.change("ee", vouches=(Vouch("named", "the maker's list", "/lists/a:1 (bundle.zip)", "sha256"),))


@sound(bittern, "role-empty")
def optional_roles_empty(scene: Scene) -> None:
    del scene.pieces["lb"], scene.pieces["ub"]


@sound(bittern, "unvouched", "mixed-release")
def a_newer_unvouched_release_present(scene: Scene) -> None:
    scene.edit_release(0, "firmware", Claim("12.04.0"))


@sound(bittern, "unvouched", "same-version-two-contents", "ambiguous")
def the_same_version_with_other_bytes_while_one_is_named(scene: Scene) -> None:
    other = replace(scene.pieces["ee"], sha256=sha("other"), vouches=())
    scene.pieces["other"] = other
    scene.pieces["writer 2"] = replace(scene.pieces["writer"], sha256=sha("writer 2"), vouches=())


@sound(bittern, "contradicted", "ambiguous")
def damaged_copies_beside_the_sound_ones(scene: Scene) -> None:
    for key in ("fw", "lb", "ub", "ee", "writer"):
        copy = replace(scene.pieces[key], sha256=sha(f"bad {key}"), member_faults=(Fault("crc", "damaged"),))
        scene.pieces[f"bad {key}"] = copy


@sound(bittern, "wrong-kind", "role-empty")
def notes_and_web_pages_that_speak_of_the_pieces(scene: Scene) -> None:
    texts = found("BITTERN PT", "BITTERN RD", "QUAYHAND", ("QUAYHAND {version}", "3.50"))
    page = Reading("text", "text", "page", fields=(Field("looks", "web-page"),))
    scene.pieces["page"] = piece("page", "text", reading=page, matches=texts)
    scene.pieces["note"] = piece("note", "text", matches=texts)


@sound(bittern, "other-mode")
def firmware_with_the_strings_of_both_modes(scene: Scene) -> None:
    scene.change("fw", matches=found(("CVFW {version}", "12.04.0"), "BITTERN RD", "BITTERN PT"))


@sound(bittern, "version-unread")
def version_given_by_a_digest(scene: Scene) -> None:
    scene.change("fw", matches=found("BITTERN PT"))


@sound(bittern, "fit-unproved")
def firmware_by_its_digest_where_the_bytes_say_nothing(scene: Scene) -> None:
    scene.change("fw", matches={}, searched=False)


@sound(bittern, "class-differs")
def mode_without_a_class(scene: Scene) -> None:
    scene.edit(modes={name: replace(one, class_code=None) for name, one in scene.family.modes.items()})
    parts(scene, "lb", image("legacy-x86", *TARGET, code=0x020000))


@sound(bittern, "eeprom-sum")
def layout_without_a_sum(scene: Scene) -> None:
    layout = replace(scene.family.layouts["bittern"], sum=None)
    scene.edit(layouts={"bittern": layout})
    scene.change("ee", layouts={"bittern": layout_answer(layout, mode__vendor=TARGET[0], mode__device=TARGET[1])})


@sound(bittern, "foreign-identity", "blank")
def template_whose_identity_is_declared_fill(scene: Scene) -> None:
    answer = scene.pieces["ee"].layouts["bittern"]
    scene.change(
        "ee", layouts={"bittern": replace(answer, values={**answer.values, "identity.sas": 0xFFFF_FFFF_FFFF_FFFF})}
    )


@sound(bittern, "foreign-identity")
def the_cards_own_eeprom_restored(scene: Scene) -> None:
    scene.cards = (card_with(sas="5f:23:40:10:00:00:00:42"),)
    with_address(scene, 0x5F234010_00000042)


@sound(bittern, "foreign-identity")
def an_address_of_the_cards_own_span_elsewhere(scene: Scene) -> None:
    scene.cards = (card_with(sas="5F23401000000042"),)
    scene.change("ee", addresses=(Field("address", "5F23401000000049", 0x88, 8),))


@sound(bittern, "foreign-identity")
def the_cards_own_serial_but_for_zeros_and_case(scene: Scene) -> None:
    scene.cards = (card_with(serial="00CV-42a"),)
    layout = scene.family.layouts["bittern"]
    mode = {"mode__vendor": TARGET[0], "mode__device": TARGET[1]}
    scene.change("ee", layouts={"bittern": layout_answer(layout, **mode, identity__serial="cv42A")})


@sound(alone, "wrong-revision")
def package_for_the_controllers_revision(scene: Scene) -> None:
    scene.cards = (host_plants.card(mode=BITTERN.source, pci_revision=host_plants.line("05")),)
    host_plants.package(scene, 0x05, 0x06)


@sound(alone, "wrong-revision")
def package_of_which_one_record_names_no_revision(scene: Scene) -> None:
    scene.cards = (host_plants.card(mode=BITTERN.source, pci_revision=host_plants.line("03")),)
    host_plants.package(scene, 0x05, None)


@sound(alone, "wrong-revision")
def package_with_a_revision_that_the_listing_does_not_show(scene: Scene) -> None:
    scene.cards = (host_plants.card(mode=BITTERN.source),)
    host_plants.package(scene, 0x05)


@sound(bittern, "companion-missing")
def companion_in_any_case(scene: Scene) -> None:
    scene.edit_role("writer", companions={"dos": ("qhXtend.Bin",)})


@sound(bittern, "companion-missing", "ambiguous")
def the_damaged_one_of_two_companions(scene: Scene) -> None:
    both = (*scene.pieces["writer"].beside, Beside("qhxtend.bin", sha("bad"), 901, "opaque"))
    scene.change("writer", beside=both)
    scene.pieces["bad"] = piece("bad", size=901, member_faults=(Fault("crc", "damaged"),))


@sound(bittern, "ambiguous")
def the_named_one_of_two_companions(scene: Scene) -> None:
    both = (*scene.pieces["writer"].beside, Beside("qhxtend.bin", sha("other"), 901, "opaque"))
    scene.change("writer", beside=both)
    scene.pieces["extender"] = piece("extender", size=900, vouches=(named(),))
    scene.pieces["other"] = piece("other", size=901)


@sound(bittern, "ambiguous", "left-out")
def two_roms_that_differ_in_padding_alone(scene: Scene) -> None:
    scene.change("ub", trimmed=sha("bare"))
    scene.pieces["padded"] = replace(scene.pieces["ub"], sha256=sha("padded"), size=131_072)


@sound(bittern, "name-disagrees")
def names_that_speak_of_this_version_beside_others(scene: Scene) -> None:
    scene.change("fw", places=(Place("/raid/from-11.00.0-to-12.4.bin"), Place("/in/fw.0C040000.bin")))


@sound(bittern, "name-disagrees")
def names_of_both_modes(scene: Scene) -> None:
    scene.change("lb", places=(Place("/in/raid-to-pass.rom"), Place("/in/braided-7.1.2.rom")))


@sound(bittern, "digest-weak")
def a_strong_digest_beside_a_weak_one(scene: Scene) -> None:
    scene.change("ee", vouches=(named(algorithm="md5"), named("the same page", "sha256")))


@sound(bittern, "digest-weak", "unvouched")
def ran_on_a_card(scene: Scene) -> None:
    scene.change("ee", vouches=())
    scene.ran = {"eeprom-image": {sha("ee-1"): (Vouch("ran", "card 1"),)}}


@sound(bittern, "unvouched")
def signed_by_a_pinned_key(scene: Scene) -> None:
    scene.edit(keys=(Key("Corvane releases", sha("certificate")),))
    scene.change("ee", vouches=(Vouch("signed", sha("certificate")),))


@sound(bittern, "below-lowest")
def the_lowest_version_itself(scene: Scene) -> None:
    scene.edit_role("firmware", lowest="12.4")


@sound(alone, "tool-too-old", "tool-too-new", "release-unknown")
def at_the_lower_bound(scene: Scene) -> None:
    scene.change("writer", matches=found(("QUAYHAND {version}", "3.10"), "QUAYHAND"))


@sound(alone, "tool-too-old", "tool-too-new", "release-unknown")
def at_the_upper_bound(scene: Scene) -> None:
    scene.change("writer", matches=found(("QUAYHAND {version}", "3.99.0"), "QUAYHAND"))


@sound(alone, "stale")
def a_newer_version_that_is_withdrawn(scene: Scene) -> None:
    newer = replace(
        scene.family.releases[0], name="thirteen", date=date(2026, 4, 1), claims={"firmware": Claim("13.0")}
    )
    scene.edit(
        releases=(newer, *scene.family.releases), withdrawn=(Withdrawn("firmware", "13.0", None, "why", "whose"),)
    )


@sound(bittern, "beyond-known", "release-unknown")
def nothing_is_beyond_where_no_version_is_known(scene: Scene) -> None:
    for at in (0, 1):
        scene.edit_release(at, "writer", Claim(least="3.0"))
    scene.change("writer", matches=found(("QUAYHAND {version}", "99"), "QUAYHAND"))


@sound(bittern, "mixed-release")
def a_role_that_the_newer_release_does_not_list(scene: Scene) -> None:
    scene.edit_release(0, "legacy-boot-rom", None)
    scene.change("lb", matches=found(("CVLB {version}", "8.30.0")))


@sound(alone, "knowledge-old")
def knowledge_of_a_year_ago_to_the_day(scene: Scene) -> None:
    scene.today = date(2027, 3, 1)


@sound(alone, "knowledge-old")
def knowledge_of_a_leap_day(scene: Scene) -> None:
    scene.edit(as_of=date(2024, 2, 29))
    scene.today = date(2025, 2, 28)


@sound(taught, "not-taught")
def a_family_that_teaches_all(scene: Scene) -> None:
    pass


@sound(bittern, "withdrawn", "below-lowest", "tool-too-new")
def orders_that_cannot_read_the_version(scene: Scene) -> None:
    scene.edit_role("writer", order="date")
    scene.edit_release(0, "writer", None)
    scene.edit_release(1, "writer", None)


@pytest.mark.parametrize(("make", "do", "absent"), SOUND, ids=lambda one: getattr(one, "__name__", ""))
def test_a_sound_kit_stays_ready(make, do, absent):
    scene = make()
    do(scene)
    kit = scene.judge()
    assert [(one.code, one.role, one.text) for one in kit.findings if one.level is Level.STOP] == []
    assert kit.verdict == "ready"
    assert not {one.code for one in kit.findings} & set(absent)


@pytest.mark.parametrize("make", SCENES.values(), ids=SCENES)
def test_the_scenes_are_chosen_as_meant(make):
    scene = make()
    kit = scene.judge()
    assert {role: pieces[0] for role, pieces in chosen(kit).items()} == {
        role: scene.of(role).sha256 for role in scene.roles
    }
    assert [one.role for one in kit.roles] == [*scene.family.routes[0].needs, *scene.family.routes[0].may]


def test_the_answers_of_each_role():
    kit = bittern().judge()
    shown = {
        one.role: (one.version, one.fit, one.vouch, one.age, one.needed, one.written, one.left_out) for one in kit.roles
    }
    assert shown == {
        "firmware": ("12.04.0", "yes", "named", "current", True, True, False),
        "eeprom-image": (None, "yes", "named", "unknown", True, True, False),
        "writer": ("3.12", "yes", "named", "current", True, False, False),
        "legacy-boot-rom": ("8.41.0", "yes", "named", "current", False, True, False),
        "uefi-boot-rom": (None, "yes", "named", "unknown", False, True, False),
    }
    assert {one.name: one.kind for one in kit.pieces}["ee-1"] == "eeprom-image"
    assert choice(kit, "writer").pieces == (sha("writer-312"), sha("extender"))


def test_trade_figures_of_eeprom_images():
    """Common practice, no published source: 256 bytes for the older generation, 448 for the newer, exact."""
    for size, other in ((256, 448), (448, 256)):
        scene = bittern()
        layout = replace(scene.family.layouts["bittern"], size=size)
        scene.edit(layouts={"bittern": layout})
        assert scene.judge().verdict == "ready"
        scene.change("ee", size=other, layouts={"bittern": layout_answer(layout, "size")})
        kit = scene.judge()
        assert [one.code for one in kit.findings if one.level is Level.STOP] == ["role-empty", "wrong-size"] or [
            one.code for one in kit.findings if one.level is Level.STOP
        ] == ["wrong-size", "role-empty"]


def test_any_mode_string_says_yes():
    scene = bittern()
    scene.edit_role("firmware", has={ANY_MODE: "BITTERN PT"}, decide=("has",))
    assert choice(scene.judge(), "firmware").fit == "yes"
