"""Rules on whether a piece fits its role: card, mode, code type, size, identity, bench.

Decisions on sentences of the contract:
- `images-disagree` compares with the vendor of the image the role needs, or with the wanted card's vendor where that
  image names nobody. Being sure of the bytes turns it into a caution.
- `name-disagrees` reads of a name only what the family knows: another known version of the role, another mode's name.
- `foreign-identity`: without a card any identity is foreign; with one, all but its own (`own_identity`). An address of
  the family's company counts wherever in the image it stands, also in a piece of the layout's size without its magic
  (a pin, or a digest, brings such a one); a field that holds only a declared fill holds no identity.
- `wrong-cpu` compares each needed image's header with its driver, and what a written piece brings for EFI with the
  destination's processor, where that is told and the machine starts by UEFI.
- `tool-too-old`, `tool-too-new` need a version; without one `version-unread` speaks.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from catalogue.kits.case import Case
from catalogue.kits.criteria import SILENT, at_field, place_of
from catalogue.kits.drivers import BYTE_CODE, programs_of
from catalogue.kits.images import OPTION_ROM
from catalogue.kits.names import last_part
from catalogue.kits.own_identity import PREFIX, is_own, shown
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.kits.rules_bytes import answered
from catalogue.kits.rules_host import name_of
from catalogue.shapes.finding import Evidence
from catalogue.shapes.host import UEFI

_VERSION_IN_NAME = re.compile(r"[0-9]+(?:[._-][0-9]+)+[a-z]?|[0-9a-f]{6,}h?")
_WORD_IN_NAME = re.compile(r"[a-z0-9]+")


def name_disagrees(case: Case) -> Iterator[Hit]:
    """The piece's name speaks of another version or mode than its bytes do; the bytes are right.

    Fine: a name without a version; a name with this version beside others.
    Refused: none; a file called fw-11.00.0.bin that holds 12.04.0 is noted.
    Looks at: the names of the piece's places.
    """
    wrong: list[Evidence] = []
    modes = _other_modes(case)
    for place in case.candidate.places:
        name = last_part(place).lower()
        if case.version is not None and (said := _other_version(case, name)) is not None:
            wrong.append(Evidence(str(place), "name", None, None, case.version.name, said))
        elif modes:
            words = set(_WORD_IN_NAME.findall(name))
            said = next((one for one in modes if one.lower() in words), None)
            if said is not None and case.asked.route.target_mode.lower() not in words:
                wrong.append(Evidence(str(place), "name", None, None, case.asked.route.target_mode, said))
    if wrong:
        yield Hit(f"Its name says {wrong[0].have}, its bytes say {wrong[0].want}. The bytes count.", tuple(wrong))


def _other_modes(case: Case) -> list[str]:
    """Names of modes that the bytes speak against; none where they say nothing of the mode."""
    if case.fit != "yes" or case.wanted.role.ids == "from":
        return []
    tells = case.wanted.role.ids is not None or bool(case.wanted.wrong) or case.wanted.layout is not None
    return [one for one in sorted(case.asked.family.modes) if one != case.asked.route.target_mode] if tells else []


def _other_version(case: Case, name: str) -> str | None:
    """A known version of the role that the name speaks of, unless it speaks of the right one too."""
    assert case.version is not None
    said: str | None = None
    for text in _VERSION_IN_NAME.findall(name):
        known = case.known.called.get(case.known.key(text))
        if known is None:
            continue
        if case.known.same(known, case.version.name):
            return None
        said = said or known
    return said


def other_family(case: Case) -> Iterable[Hit]:
    """IDs, strings or the layout say that the piece is for another card.

    Fine: vendor 0000h, which says nothing; the subsystem IDs of the brand that sold the card.
    Refused: an option ROM that names another vendor, or this vendor's other device.
    Looks at: PCIR+04h, PCIR+06h, the device list, the family's strings, the layout's fields.
    """
    return answered(case, "other-family")


def other_mode(case: Case) -> Iterable[Hit]:
    """The piece says that it is for a mode the route does not lead to.

    Fine: firmware that holds the strings of both modes.
    Refused: the RAID mode's boot ROM on a route to pass-through mode.
    Looks at: the device list, the family's strings, the layout's mode fields.
    """
    return answered(case, "other-mode")


def images_disagree(case: Case) -> Iterable[Hit]:
    """An image that the role does not need names another vendor.

    Fine: an image with vendor 0000h beside the needed one; images of the same vendor for other devices.
    Refused: a legacy image of the wanted card joined to an EFI image of another maker's.
    Looks at: PCIR+04h of each image.
    """
    if len(case.images) < 2 or not case.candidate.kind.startswith(OPTION_ROM):
        return ()
    needed = case.needed_images()
    vendors = {one.vendor for one in needed if one.vendor} or {vendor for vendor, _ in case.wanted.cards}
    other = [one for one in case.images if one not in needed and one.vendor and one.vendor not in vendors]
    if not vendors or not other:
        return ()
    want = ", ".join(f"{one:04X}" for one in sorted(vendors))
    evidence = tuple(at_field(case.candidate, one.field("vendor_id"), want, f"{one.vendor:04X}") for one in other)
    text = f"Another image of the file names vendor {other[0].vendor:04X}, not {want}."
    return (Hit(text, evidence, Weight.CAUTION if case.standing.sure else None),)


def fit_unproved(case: Case) -> Iterable[Hit]:
    """Nothing speaks against the piece, and none of the role's deciding criteria speaks for it.

    Fine: firmware whose digest stands in a release; a boot ROM that names the wanted card.
    Refused: a ROM with vendor 0000h and no digest in the family.
    Looks at: the criteria that the family lets decide.
    """
    if case.fit != SILENT:
        return ()
    decide = case.wanted.role.decide
    line = case.asked.line(f"role.{case.wanted.role.name}.decide", f"role.{case.wanted.role.name}")
    asked = ", ".join(decide) or "nothing"
    evidence = (
        Evidence(place_of(case.candidate), "criteria", None, None, f"yes from one of: {asked}", "silent"),
        Evidence(line, "decide", None, None, "", asked),
    )
    return (Hit(f"None of the deciding criteria ({asked}) says that it fits; none says that it does not.", evidence),)


def class_differs(case: Case) -> Iterator[Hit]:
    """The ROM names the right card and another class than the mode has.

    Fine: a family that gives the mode no class.
    Refused: none; class 010400h in a ROM for a mode of class 010700h earns a caution.
    Looks at: PCIR+0Dh.
    """
    codes = case.wanted.class_codes
    for image in case.needed_images() if codes else ():
        want = {codes[card] for card in image.cards if card in codes}
        if want and image.class_code is not None and image.class_code not in want:
            shown = ", ".join(f"{one:06X}" for one in sorted(want))
            place = at_field(case.candidate, image.field("class_code"), shown, f"{image.class_code:06X}")
            yield Hit(f"It names class {image.class_code:06X}; the mode has {shown}.", (place,))


def wrong_cpu(case: Case) -> Iterable[Hit]:
    """No EFI image is for the destination's CPU, or an image's header and its driver are for different machines.

    Fine: a ROM with one image for each of several CPUs; a driver that was too large to unpack; EFI byte code, which
    earns a caution.
    Refused: a header that says x86-64 before a driver for AArch64; a driver for x86-64 alone for an AArch64 machine.
    Looks at: the machine at 0Ah of the EFI header, the machine of the driver, the host file's cpu.
    """
    hits: list[Hit] = []
    for image in case.needed_images() if case.images else ():
        header = image.part.value("efi_machine") if image.part.parts else None
        for part in image.part.parts:
            machine = part.value("machine")
            if isinstance(header, int) and isinstance(machine, int) and header != machine:
                place = at_field(case.candidate, image.field("efi_machine"), f"{machine:04X}", f"{header:04X}")
                hits.append(Hit(f"The header is for machine {header:04X}h, the driver for {machine:04X}h.", (place,)))
    return [*hits, *_other_cpu(case)]


def _other_cpu(case: Case) -> Iterator[Hit]:
    machine = case.asked.host.destination
    if machine.cpu is None or not case.wanted.role.written or (machine.boots and UEFI not in machine.boots):
        return
    have = {one.machine: one for one in programs_of(case)}
    if not have or None in have or machine.cpu in have:
        return
    names = ", ".join(name_of(one) for one in have)
    want = name_of(machine.cpu)
    first = next(iter(have.values()))
    evidence = (
        Evidence(place_of(case.candidate), "efi_machine", first.offset, None, want, names),
        Evidence(f"{case.asked.host.file}:{machine.line('cpu')}", "cpu", None, None, want, ""),
    )
    if BYTE_CODE in have:
        text = f"It brings EFI byte code, which {want} may run; firmware need not have an interpreter."
        yield Hit(text, evidence, Weight.CAUTION)
    else:
        yield Hit(f"Its EFI images are for {names}; the destination has {want}.", evidence)


def wrong_size(case: Case) -> Iterable[Hit]:
    """An EEPROM image that is not exact, a piece out of bounds or larger than the flash, a program cut short.

    Fine: a piece of any size where the family gives none.
    Refused: an EEPROM image of 321 bytes where the layout has 320.
    Looks at: the size in bytes, the layout, the card's flash.
    """
    return answered(case, "wrong-size")


def foreign_identity(case: Case) -> Iterable[Hit]:
    """The EEPROM image holds some other card's identity, which would be written to every card of the job.

    Fine: a template whose address and serial hold only a declared fill; the card's own save, where a saved listing of
    that card shows the same address and serial.
    Refused: the dump of another card, with its address.
    Looks at: the layout's identity fields, every NAA 5h with a company ID of the family, the saved listing.
    """
    answer = case.layout
    if answer is None or answer.state not in ("fits", "other"):
        return ()
    family, cards = case.asked.family, case.asked.cards
    fields = answer.fields if answer.state == "fits" else ()
    held = [one for one in fields if one.name.startswith(PREFIX) and one.name not in answer.empty]
    covered = [(one.offset or 0, one.length) for one in held]
    stray = [
        one
        for one in case.candidate.addresses
        if not any(start <= (one.offset or 0) < start + length for start, length in covered)
    ]
    foreign = [one for one in (*held, *stray) if not is_own(family, cards, one)]
    if not foreign:
        return ()
    names = dict.fromkeys(one.name.removeprefix(PREFIX) for one in foreign)
    own = [said for name in names if (said := shown(cards, name)) is not None]
    want = f"no identity, or {own[0].text}" if own else "no identity"
    evidence = tuple(at_field(case.candidate, one, want, _shown(one.value)) for one in foreign)
    told = tuple(Evidence(one.place, "the card's own", None, None, "", one.text) for one in own)
    whose = "another card than the one this is for" if cards else "some card"
    return (Hit(f"It holds the identity of {whose} ({', '.join(names)}).", (*evidence, *told)),)


def _shown(value: object) -> str:
    return f"{value:016X}" if isinstance(value, int) else str(value)


def other_bench(case: Case) -> Iterable[Hit]:
    """A program for another bench than the route's.

    Fine: a DOS program with an LE part; a COM program, which has no header.
    Refused: a Windows program on a DOS route; an EFI application on a Linux route.
    Looks at: the word at 3Ch, the PE subsystem, the ELF machine.
    """
    return answered(case, "other-bench")


def tool_too_old(case: Case) -> Iterable[Hit]:
    """The program is older than the release takes.

    Fine: the oldest version within the bounds.
    Refused: version 3.09 where the release takes 3.10 to 3.99.
    Looks at: the version, the release's bounds.
    """
    return _outside(case, -1)


def tool_too_new(case: Case) -> Iterable[Hit]:
    """The program is newer than the release takes: too new a one may refuse the firmware.

    Fine: the newest version within the bounds.
    Refused, until a person gives a word: version 4.00 where the release takes 3.10 to 3.99.
    Looks at: the version, the release's bounds.
    """
    return _outside(case, 1)


def _outside(case: Case, side: int) -> Iterator[Hit]:
    version, bounds = case.version, case.bounds
    if version is None or bounds is None or not case.known.order.speaks_of(version.name):
        return
    if case.known.side(bounds, version) == side:
        want = f"{bounds.least or 'any'} to {bounds.most or 'any'}"
        place = case.asked.release_line(bounds.release, case.wanted.role.name)
        yield Hit(
            f"It is version {version.name}; release {bounds.release} takes {want}.",
            (
                Evidence(place_of(case.candidate), "version", version.offset, None, want, version.text),
                Evidence(place, "from, to", None, None, want, version.name),
            ),
        )


def companion_missing(case: Case) -> Iterable[Hit]:
    """A file that the utility needs beside it is not in its folder or archive.

    Fine: the file under its name in any case.
    Refused: the utility alone, without the extender it loads.
    Looks at: the role's with, the piece's own folder or archive.
    """
    role = case.wanted.role.name
    return [
        Hit(
            f"{one.name} does not lie beside it.",
            (
                Evidence(place_of(case.candidate), "beside", None, None, one.name, "missing"),
                Evidence(case.asked.line(f"role.{role}.with", f"role.{role}"), "with", None, None, one.name, ""),
            ),
        )
        for one in case.companions
        if not one.found
    ]


RULES: tuple[Rule[Case], ...] = (
    Rule(
        "name-disagrees", Weight.NOTE, name_disagrees, "The name says something else",
        "Trust the bytes; rename the file if the name misleads.", "CP",
    ),
    Rule(
        "other-family", Weight.STOP, other_family, "The piece is for another card",
        "Fetch the piece that the maker gives for this card.", "T IMG.INCOMPATIBLE",
    ),
    Rule(
        "other-mode", Weight.STOP, other_mode, "The piece is for another mode",
        "Fetch the piece for the mode this route leads to.", "T IMG.INCOMPATIBLE",
    ),
    Rule(
        "images-disagree", Weight.STOP, images_disagree, "The images name different makers",
        "Use a ROM file whose images are all for this card.", "PCI Firmware Specification 5.1",
    ),
    Rule(
        "fit-unproved", Weight.CLEARABLE, fit_unproved, "Nothing proves that the piece fits",
        "Find the maker's digest of it for the family file, or give a word if you know what it is.",
        "R SEC.COMPATIBLE",
    ),
    Rule(
        "class-differs", Weight.CAUTION, class_differs, "The class differs from the mode's",
        "Check with the maker's notes that this ROM serves the mode.", "PCI Firmware Specification 5.1",
    ),
    Rule(
        "wrong-cpu", Weight.STOP, wrong_cpu, "For another processor",
        "Fetch the ROM for this machine's processor; where header and driver disagree, fetch it again.", "UEFI",
    ),
    Rule(
        "wrong-size", Weight.STOP, wrong_size, "The size is wrong",
        "Fetch the piece again; an EEPROM image must have exactly the card's size.", "CP",
    ),
    Rule(
        "foreign-identity", Weight.STOP, foreign_identity, "The EEPROM image holds a card's identity",
        "Use the maker's template, whose identity fields are empty, or name a listing of the card whose own save this "
        "is; two cards of one address disturb each other.",
        "CP",
    ),
    Rule(
        "other-bench", Weight.STOP, other_bench, "The program is for another bench",
        "Fetch the program for the route's bench, or take the route for the bench it runs on.", "PE/COFF, ELF",
    ),
    Rule(
        "tool-too-old", Weight.STOP, tool_too_old, "The program is too old",
        "Fetch a version within the release's bounds.", "CP", by_release=True,
    ),
    Rule(
        "tool-too-new", Weight.CLEARABLE, tool_too_new, "The program is newer than the release takes",
        "Fetch a version within the release's bounds, or give a word if the maker says that this one serves.",
        "CP", by_release=True,
    ),
    Rule(
        "companion-missing", Weight.STOP, companion_missing, "A file the program needs is missing",
        "Put the file into the program's folder, from the same download, and index it again.", "CP",
    ),
)  # fmt: skip
