"""The demo's families on the demo's pieces, end to end: sound kits are ready, in every packing, and stay so."""

from __future__ import annotations

import pytest

from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Pin, Word
from catalogue.tasks import read_back, write_out
from sample_bundles import bittern, heron, plover
from sample_bundles.item import Item
from sample_bundles.make import make
from tests.reference.demo_bench import Bench, Bundle, chosen, codes, digest, stops, why_not

ROUTES = [
    (bittern.FAMILY, "raid-to-pass-dos"), (bittern.FAMILY, "raid-to-pass-uefi"), (heron.FAMILY, "raid-to-pass-dos"),
    (heron.FAMILY, "raid-to-pass-uefi"), (plover.FAMILY, "netstart-linux"), (plover.FAMILY, "netstart-uefi"),
]
WANTED = {
    (bittern.FAMILY, "raid-to-pass-dos"): {
        "firmware": [bittern.FIRMWARE], "eeprom-image": [bittern.EEPROM], "legacy-boot-rom": [bittern.LEGACY],
        "uefi-boot-rom": [], "writer": [bittern.DOS_WRITER, bittern.EXTENDER]},
    (bittern.FAMILY, "raid-to-pass-uefi"): {
        "firmware": [bittern.FIRMWARE], "eeprom-image": [bittern.EEPROM], "legacy-boot-rom": [bittern.LEGACY],
        "uefi-boot-rom": [], "writer": [bittern.UEFI_WRITER]},
    (heron.FAMILY, "raid-to-pass-dos"): {
        "firmware": [heron.FIRMWARE], "eeprom-image": [heron.EEPROM], "legacy-boot-rom": [heron.LEGACY],
        "uefi-boot-rom": [heron.UEFI], "writer": [heron.DOS_WRITER, heron.KEYS], "notes": [heron.NOTES]},
    (heron.FAMILY, "raid-to-pass-uefi"): {
        "firmware": [heron.FIRMWARE], "eeprom-image": [heron.EEPROM], "legacy-boot-rom": [heron.LEGACY],
        "uefi-boot-rom": [heron.UEFI], "writer": [heron.UEFI_WRITER], "notes": [heron.NOTES]},
    (plover.FAMILY, "netstart-linux"): {
        "firmware": [plover.FIRMWARE], "legacy-boot-rom": [plover.ROM], "uefi-boot-rom": [plover.ROM],
        "writer": [plover.LINUX_WRITER]},
    (plover.FAMILY, "netstart-uefi"): {
        "firmware": [plover.FIRMWARE], "legacy-boot-rom": [plover.ROM], "uefi-boot-rom": [plover.ROM],
        "writer": [plover.UEFI_WRITER]},
}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """The whole messy folder, indexed once."""
    one = Bench(tmp_path_factory.mktemp("demo"))
    one.made = make(one.intake)
    one.index()
    return one


@pytest.mark.parametrize(("family", "route"), ROUTES)
def test_the_good_kit_is_ready_in_the_whole_mess(bench, family, route):
    proved = bench.kit(family, route)
    assert stops(proved) == set()
    assert proved.verdict == "ready"
    want = {role: tuple(digest(one) for one in items) for role, items in WANTED[family, route].items()}
    assert chosen(proved) == want
    assert "never-ran" in codes(proved, Level.CAUTION)
    for choice in proved.roles:
        if choice.written and choice.pieces:
            assert (choice.fit, choice.vouch, choice.age) == ("yes", "named", "current"), choice.role


@pytest.mark.parametrize(("family", "route"), ROUTES)
@pytest.mark.parametrize("packed", [True, False], ids=["packed", "loose"])
@pytest.mark.parametrize("listed", ["", "right"])
def test_the_good_kit_is_ready_alone(tmp_path, family, route, packed, listed):
    from dataclasses import replace

    bundle = replace(Bundle.of(family), packed=packed, listed=listed)
    proved = Bench(tmp_path).prove(bundle, family, route)
    assert stops(proved) == set()
    want = {role: tuple(digest(one) for one in items) for role, items in WANTED[family, route].items()}
    assert chosen(proved) == want


def test_the_route_that_cannot_read_the_flash_back_says_so(bench):
    assert "not-checked" in codes(bench.kit(heron.FAMILY, "raid-to-pass-uefi"), Level.CAUTION)
    assert "not-checked" not in codes(bench.kit(heron.FAMILY, "raid-to-pass-dos"), Level.CAUTION)


def test_the_unvouched_boot_rom_is_left_out_until_a_person_gives_a_word(tmp_path):
    one = Bench(tmp_path)
    before = one.prove(Bundle.of(bittern.FAMILY), bittern.FAMILY)
    rom = digest(bittern.UEFI)
    assert why_not(before, "uefi-boot-rom", rom) == ("unvouched",)
    assert "left-out" in codes(before, Level.NOTE)
    after = one.kit(bittern.FAMILY, words=[Word("unvouched", rom, "digest read out by the maker", "M. Reed")])
    assert after.verdict == "ready"
    assert chosen(after)["uefi-boot-rom"] == (rom,)
    cleared = [finding for finding in after.findings if finding.cleared_by is not None]
    assert [(finding.code, finding.level, finding.piece) for finding in cleared] == [("unvouched", Level.CAUTION, rom)]
    assert cleared[0].cleared_by.by == "M. Reed"
    assert after.id != before.id


def test_names_decide_nothing(tmp_path):
    """Every piece under a name that lies (but for the companion and COM): the same pieces are chosen."""
    honest = Bench(tmp_path / "honest").prove(Bundle.of(heron.FAMILY), heron.FAMILY)
    renamed = Bundle.of(heron.FAMILY)
    names = ["HNLB512.ROM", "NOTES.TXT", "HNCFGP.BIN", "HNP7182.FW"]
    for item, name in zip((heron.FIRMWARE, heron.LEGACY, heron.UEFI, heron.EEPROM), names, strict=True):
        renamed = renamed.put(item, item.named(f"x/{name}"))
    lying = Bench(tmp_path / "lying").prove(renamed, heron.FAMILY)
    assert chosen(lying) == chosen(honest)
    assert stops(lying) == set()


def test_another_familys_whole_kit_and_duplicates_change_nothing(tmp_path):
    alone = Bench(tmp_path / "alone").prove(Bundle.of(bittern.FAMILY), bittern.FAMILY)
    among = Bench(tmp_path / "among")
    for family in (heron.FAMILY, plover.FAMILY):
        Bundle.of(family).lay(among.intake, family)
    Bundle.of(bittern.FAMILY).lay(among.intake, "again")
    again = among.prove(Bundle.of(bittern.FAMILY), bittern.FAMILY)
    assert chosen(again) == chosen(alone)
    assert (again.id, again.verdict) == (alone.id, alone.verdict)


@pytest.mark.parametrize(("family", "route"), ROUTES)
def test_written_out_read_back_and_taken_in_again(tmp_path, family, route):
    """Write-out, then a catalogue that knows the medium alone: the same pieces, the same choice."""
    one = Bench(tmp_path / "one")
    proved = one.prove(Bundle.of(family), family, route)
    medium = tmp_path / "medium"
    medium.mkdir()
    written = write_out.run(one.context, family, medium, kit_id=proved.id, route=route)
    assert written.read_back == "same"
    assert read_back.run(medium).read_back == "same"
    two = Bench(tmp_path / "two")
    from catalogue.tasks import index

    index.run(two.context, [medium])
    again = two.kit(family, route)
    assert again.verdict == "ready"
    assert chosen(again) == chosen(proved)


def test_one_flipped_bit_on_the_medium_is_seen(tmp_path):
    one = Bench(tmp_path / "one")
    proved = one.prove(Bundle.of(plover.FAMILY), plover.FAMILY)
    medium = tmp_path / "medium"
    medium.mkdir()
    written = write_out.run(one.context, plover.FAMILY, medium, kit_id=proved.id)
    for name in {file.name for file in written.files}:
        path = next(medium.rglob(name.rsplit("/", 1)[-1]))
        data = path.read_bytes()
        path.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
        assert read_back.run(medium).read_back == "differs", name
        path.write_bytes(data)
    assert read_back.run(medium).read_back == "same"


def tempting(family: str) -> list[tuple[str, str, str]]:
    from sample_bundles.scene import scene

    rows = []
    for item in scene():
        for place, one in item.walk():
            if one.family == family and one.tempts:
                rows += [("/".join(place), role, digest(one)) for role in one.roles]
    return list(dict.fromkeys(rows))


def wanted_codes(sha256: str) -> tuple[str, ...]:
    from sample_bundles.scene import scene

    return next(one.tempts for item in scene() for _, one in item.walk() if one.tempts and digest(one) == sha256)


ROUTE_OF = {bittern.FAMILY: "raid-to-pass-dos", heron.FAMILY: "raid-to-pass-dos", plover.FAMILY: "netstart-linux"}
ALL_TEMPTING = [(family, *row) for family in ROUTE_OF for row in tempting(family)]


@pytest.mark.parametrize(("family", "place", "role", "sha256"), ALL_TEMPTING, ids=lambda value: str(value)[-40:])
def test_every_temptation_pinned_is_refused_for_its_reason(bench, family, place, role, sha256):
    """Whatever lies about: chosen by hand, it stops the kit with the code that names its fault, on that very piece."""
    proved = bench.kit(family, ROUTE_OF[family], pins=[Pin(role, sha256, "tried on purpose")])
    assert proved.verdict == "not-ready"
    found = {one.code for one in proved.findings if one.level is Level.STOP and (one.role, one.piece) == (role, sha256)}
    assert set(wanted_codes(sha256)) <= found


@pytest.mark.parametrize(("family", "route"), ROUTES)
def test_no_temptation_is_ever_chosen_by_itself(bench, family, route):
    taken = {piece for pieces in chosen(bench.kit(family, route)).values() for piece in pieces}
    assert taken.isdisjoint(sha256 for _, _, _, sha256 in ALL_TEMPTING)


def test_an_old_utility_pinned_brings_the_whole_old_release_with_it(bench):
    """Releases first: the newest release that has room for the pin is taken whole, and said to be stale."""
    old = next(one for one in bench.made.pieces if one.inside == ("tools/dos/QHAND.EXE",) and "11.02" in str(one.path))
    proved = bench.kit(bittern.FAMILY, pins=[Pin("writer", old.sha256, "tried on purpose")])
    versions = {one.role: one.version for one in proved.roles}
    assert (versions["firmware"], versions["legacy-boot-rom"]) == ("11.02.0", "8.30.0")
    assert {one.role for one in proved.findings if one.code == "stale"} >= {"firmware", "legacy-boot-rom"}
    assert stops(proved) == set()


@pytest.mark.parametrize("other", [heron.LEGACY, plover.ROM])
def test_another_cards_rom_pinned_is_refused(bench, other: Item):
    proved = bench.kit(bittern.FAMILY, pins=[Pin("legacy-boot-rom", digest(other), "tried on purpose")])
    assert ("other-family", "legacy-boot-rom") in stops(proved)
    assert proved.verdict == "not-ready"


def test_firmware_beyond_all_that_is_known_is_said_to_be(bench):
    beyond = next(one for one in bench.made.pieces if one.path.name == "BTP13000.FW")
    proved = bench.kit(bittern.FAMILY, pins=[Pin("firmware", beyond.sha256, "tried on purpose")])
    assert "beyond-known" in {one.code for one in proved.findings if one.piece == beyond.sha256}
    assert proved.verdict == "not-ready"
