"""A first sweep of the campaign of judging.md at the level of candidates: rows "Choice", "EEPROM" and "ROM fields".

Every mutant is planted in every role where its class has meaning, plain and inside an archive, and names the code it
must raise. None may come out ready with the mutant in it; those that earn only a caution are asserted by code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from catalogue.families.model import ANY_BENCH, Withdrawn
from catalogue.shapes.piece import Place
from catalogue.shapes.reading import Reading
from tests.kits.world import (
    BITTERN,
    HERON,
    PLOVER,
    SCENES,
    Names,
    Scene,
    choice,
    chosen,
    found,
    image,
    layout_answer,
    named,
    rom,
    sha,
)

NAMES: dict[str, Names] = {"bittern": BITTERN, "heron": HERON, "plover": PLOVER}
Mutant = Callable[[Scene, Names, str], "str | None"]
"""Plants itself in the piece that fills a role; answers the code it must raise, None where it has no meaning there."""
MUTANTS: list[Mutant] = []


def mutant(do: Mutant) -> Mutant:
    MUTANTS.append(do)
    return do


def other_bytes(scene: Scene, role: str, **what: object) -> None:
    """Other content in the role's place: another SHA-256, which the family does not know but a recorded list names."""
    key = scene.roles[role]
    for older in [one for one in scene.pieces if one == "fw-old"]:
        del scene.pieces[older]
    scene.pieces[key] = replace(scene.pieces[key], sha256=sha("mutant"), vouches=(named(),), **what)


def is_rom(scene: Scene, role: str) -> str | None:
    kind = scene.family.roles[role].kind.get(ANY_BENCH, "")
    return kind.removeprefix("option-rom/") if kind.startswith("option-rom/") else None


def one_image(scene: Scene, role: str, *images: Reading) -> None:
    """The role's ROM of these images instead, alone in its file."""
    made = rom("mutant", *images)
    other_bytes(scene, role, reading=made.reading, kind=made.kind)


def eeprom(scene: Scene, role: str, state: str = "fits", size: int | None = None, **values: int) -> None:
    (layout,) = scene.family.layouts.values()
    sum_ok = values.pop("sum_ok", 1)
    answer = layout_answer(layout, state, **values)
    answer = replace(answer, sum_ok=None if answer.sum_ok is None else bool(sum_ok))
    other_bytes(scene, role, layouts={layout.name: answer}, size=layout.size if size is None else size)


def versioned(scene: Scene, role: str, version: str) -> None:
    known = scene.family.roles[role]
    others = {text: match for text, match in scene.of(role).matches.items() if text != known.version}
    other_bytes(scene, role, matches={**others, **found((known.version, version))})


# --- Choice


@mutant
def removed(scene: Scene, _names: Names, role: str) -> str:
    for key in {scene.roles[role], "fw-old"} & set(scene.pieces):
        del scene.pieces[key]
    return "role-empty" if role in scene.family.routes[0].needs else "left-out"


@mutant
def from_another_family(scene: Scene, _names: Names, role: str) -> str:
    other = next(make() for make in SCENES.values() if make().family.id != scene.family.id and role in make().roles)
    code = removed(scene, _names, role)
    scene.pieces["foreign"] = other.of(role)
    return code


@mutant
def from_another_mode(scene: Scene, names: Names, role: str) -> str | None:
    known = scene.family.roles[role]
    if is_rom(scene, role):
        return rom_device_of_another_mode(scene, names, role)
    if known.layout is not None:
        return eeprom_of_another_mode(scene, names, role)
    if "raid" in known.has or "plain" in known.has:
        others = {text: one for text, one in scene.of(role).matches.items() if text not in known.has.values()}
        other_bytes(scene, role, matches={**others, **found(known.has[names.source])})
        return "other-mode"
    return None


@mutant
def for_another_bench(scene: Scene, _names: Names, role: str) -> str | None:
    if role != "writer":
        return None
    other_bytes(scene, role, kind="windows-program", reading=Reading("pe", "windows-program", ""))
    return "other-bench"


@mutant
def taken_back(scene: Scene, _names: Names, role: str) -> str:
    scene.edit(withdrawn=(Withdrawn(role, None, sha("mutant"), "why", "whose"),))
    if scene.family.roles[role].decide == ("hash",):
        scene.edit_role(role, decide=("hash", "has"), has={})
    other_bytes(scene, role)
    scene.pin(role, sha("mutant"))
    return "withdrawn"


@mutant
def below_the_lowest(scene: Scene, _names: Names, role: str) -> str | None:
    if scene.family.roles[role].version is None:
        return None
    scene.edit_role(role, lowest="9.0.0")
    versioned(scene, role, "8.9.9")
    return "below-lowest"


@mutant
def one_step_outside_a_bound(scene: Scene, names: Names, role: str) -> str | None:
    if role != "writer" or names is not BITTERN:
        return None
    versioned(scene, role, "3.09")
    return "tool-too-old"


@mutant
def one_step_over_a_bound(scene: Scene, names: Names, role: str) -> str | None:
    if role != "writer" or names is not BITTERN:
        return None
    versioned(scene, role, "3.99.1")
    return "tool-too-new"


@mutant
def companion_removed(scene: Scene, _names: Names, role: str) -> str | None:
    if not scene.family.roles[role].companions:
        return None
    other_bytes(scene, role, beside=())
    return "companion-missing"


@mutant
def the_same_version_with_other_bytes(scene: Scene, _names: Names, role: str) -> str | None:
    if role != "writer":
        return None
    scene.change("writer", vouches=())
    scene.pieces["second"] = replace(scene.of(role), sha256=sha("mutant"))
    return "same-version-two-contents"


@mutant
def a_tie(scene: Scene, _names: Names, role: str) -> str:
    scene.change(scene.roles[role], vouches=(named(),))
    if scene.of(role).sha256 in {sha("fw-12"), sha("heron-fw"), sha("heron-ee")}:
        claims = {
            name: replace(one, sha256=(*one.sha256, sha("mutant")))
            for name, one in scene.family.releases[0].claims.items()
            if name == role
        }
        first = scene.family.releases[0]
        scene.edit(releases=(replace(first, claims={**first.claims, **claims}), *scene.family.releases[1:]))
    scene.pieces["second"] = replace(scene.of(role), sha256=sha("mutant"))
    return "ambiguous" if role in scene.family.routes[0].needs else "left-out"


@mutant
def version_99(scene: Scene, names: Names, role: str) -> str | None:
    if scene.family.roles[role].version is None or (names is BITTERN and role == "writer"):
        return None
    versioned(scene, role, "99.0.0")
    return "beyond-known"


# --- EEPROM


@mutant
def eeprom_one_byte_more(scene: Scene, _names: Names, role: str) -> str | None:
    return _eeprom_of_size(scene, role, 1)


@mutant
def eeprom_one_byte_less(scene: Scene, _names: Names, role: str) -> str | None:
    return _eeprom_of_size(scene, role, -1)


@mutant
def eeprom_of_the_other_generation(scene: Scene, names: Names, role: str) -> str | None:
    return _eeprom_of_size(scene, role, 192 - 320 if names is BITTERN else 320 - 192)


def _eeprom_of_size(scene: Scene, role: str, more: int) -> str | None:
    if scene.family.roles[role].layout is None:
        return None
    eeprom(scene, role, "size", next(iter(scene.family.layouts.values())).size + more)
    return "wrong-size"


@mutant
def eeprom_sum_broken(scene: Scene, names: Names, role: str) -> str | None:
    if scene.family.roles[role].layout is None or names is HERON:
        return None
    eeprom(scene, role, mode__vendor=names.vendor, mode__device=names.second, sum_ok=0)
    return "eeprom-sum"


@mutant
def eeprom_of_another_mode(scene: Scene, names: Names, role: str) -> str | None:
    if scene.family.roles[role].layout is None:
        return None
    eeprom(scene, role, mode__vendor=names.vendor, mode__device=names.first)
    return "other-mode"


@mutant
def eeprom_with_another_cards_serial(scene: Scene, names: Names, role: str) -> str | None:
    if scene.family.roles[role].layout is None:
        return None
    eeprom(scene, role, mode__vendor=names.vendor, mode__device=names.second, identity__serial=1)
    return "foreign-identity"


@mutant
def eeprom_nearly_blank(scene: Scene, _names: Names, role: str) -> str | None:
    if scene.family.roles[role].layout is None:
        return None
    eeprom(scene, role, "blank")
    return "blank"


@mutant
def eeprom_with_empty_mode_fields(scene: Scene, _names: Names, role: str) -> str | None:
    if scene.family.roles[role].layout is None:
        return None
    eeprom(scene, role)
    return "other-family"


# --- ROM fields


@mutant
def rom_vendor_of_another_maker(scene: Scene, names: Names, role: str) -> str | None:
    if (kind := is_rom(scene, role)) is None:
        return None
    one_image(scene, role, image(kind, 0xF999, names.second))
    scene.pin(role, sha("mutant"))
    return "other-family"


@mutant
def rom_device_of_another_mode(scene: Scene, names: Names, role: str) -> str | None:
    if (kind := is_rom(scene, role)) is None:
        return None
    one_image(scene, role, image(kind, names.vendor, names.first))
    return "other-mode"


@mutant
def rom_list_of_another_mode(scene: Scene, names: Names, role: str) -> str | None:
    if (kind := is_rom(scene, role)) is None:
        return None
    one_image(scene, role, image(kind, names.vendor, names.bare, (names.first,)))
    return "other-mode"


@mutant
def rom_list_emptied(scene: Scene, names: Names, role: str) -> str | None:
    if (kind := is_rom(scene, role)) is None:
        return None
    one_image(scene, role, image(kind, names.vendor, names.bare, ()))
    scene.pin(role, sha("mutant"))
    return "other-family"


@mutant
def rom_of_another_code_type(scene: Scene, names: Names, role: str) -> str | None:
    if (kind := is_rom(scene, role)) is None:
        return None
    one_image(scene, role, image("efi" if kind != "efi" else "legacy-x86", names.vendor, names.second))
    scene.pin(role, sha("mutant"))
    return "wrong-kind"


@mutant
def rom_last_bit_early(scene: Scene, names: Names, role: str) -> str | None:
    if (kind := is_rom(scene, role)) is None:
        return None
    target = (names.vendor, names.second)
    one_image(scene, role, image("open-firmware", *target, last=True), image(kind, *target, offset=512))
    return "image-hidden"


@mutant
def efi_machine_changed_in_the_header(scene: Scene, names: Names, role: str) -> str | None:
    if is_rom(scene, role) != "efi":
        return None
    one_image(scene, role, image("efi", names.vendor, names.second, machine=0xAA64, driver=0x8664))
    return "wrong-cpu"


@mutant
def efi_machine_changed_in_the_driver(scene: Scene, names: Names, role: str) -> str | None:
    if is_rom(scene, role) != "efi":
        return None
    one_image(scene, role, image("efi", names.vendor, names.second, machine=0x8664, driver=0xAA64))
    return "wrong-cpu"


@mutant
def efi_application(scene: Scene, names: Names, role: str) -> str | None:
    if is_rom(scene, role) != "efi":
        return None
    one_image(scene, role, image("efi", names.vendor, names.second, subsystem=10))
    return "wrong-kind"


@mutant
def rom_class_of_another_mode(scene: Scene, names: Names, role: str) -> str | None:
    if (kind := is_rom(scene, role)) is None:
        return None
    one_image(scene, role, image(kind, names.vendor, names.second, code=0x010400))
    scene.pin(role, sha("mutant"))
    return "class-differs"


ONLY_CAUTIONS = {"class-differs", "left-out"}


def cases() -> Iterator[tuple[str, str, Mutant, bool]]:
    for name, make in SCENES.items():
        for role in make().roles:
            for do in MUTANTS:
                if do(make(), NAMES[name], role) is not None:
                    yield name, role, do, False
                    yield name, role, do, True


CASES = list(cases())


@pytest.mark.parametrize(("name", "role", "do", "packed"), CASES, ids=lambda one: getattr(one, "__name__", str(one)))
def test_no_mutant_comes_out_ready(name, role, do, packed):
    scene = SCENES[name]()
    code = do(scene, NAMES[name], role)
    if packed:
        for key, one in scene.pieces.items():
            scene.pieces[key] = replace(one, places=(Place("/in/bundle.zip", ("inner.zip", f"x/{key}.bin")),))
    kit = scene.judge()
    said = {one.code for one in kit.findings if one.role == role}
    others = {why for one in choice(kit, role).others for why in one.why}
    assert code in said | others
    if kit.verdict == "ready":
        taken = {one for pieces in chosen(kit).values() for one in pieces}
        assert sha("mutant") not in taken or code in ONLY_CAUTIONS


def test_the_sweep_is_not_idle():
    assert len(CASES) > 150
    assert {do.__name__ for _, _, do, _ in CASES} == {do.__name__ for do in MUTANTS}
