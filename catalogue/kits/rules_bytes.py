"""Rules on the bytes of a piece: damage, oddities, blanks, wrong kinds.

Decisions on sentences of the contract:
- What cannot be damaged (signed, or named by the family's own digest) turns `rom-damaged`, `data-after-end` and
  `eeprom-sum` into cautions: the maker published these very bytes.
- An empty file is blank.
"""

from __future__ import annotations

from collections.abc import Iterable

from catalogue.kits.candidate import Candidate
from catalogue.kits.case import Case
from catalogue.kits.criteria import NO, WRONG_LOOKS, place_of
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.shapes.finding import Evidence
from catalogue.shapes.piece import Beside
from catalogue.shapes.reading import Fault

NEVER_A_COMPANION = ("web-page", "pointer-file")
"""What stands where a download failed; other text may be what a program reads."""


def answered(case: Case, code: str) -> Iterable[Hit]:
    """A hit for each criterion that said no with this code."""
    if case.fit != NO:
        return ()
    return [Hit(one.text, one.evidence) for one in case.answers if one.code == code]


def _faulty(case: Case, faults: Iterable[Fault], code: str, weight: Weight | None = None) -> Iterable[Hit]:
    """One hit for all faults of this code."""
    found = tuple(dict.fromkeys([one for one in faults if one.code == code]))
    if not found:
        return ()
    more = f" ({len(found) - 1} more of this kind)" if len(found) > 1 else ""
    place = place_of(case.candidate)
    evidence = tuple(Evidence(place, code, one.offset, None, "", one.text) for one in found)
    return (Hit(found[0].text + more, evidence, weight),)


def _sure(case: Case) -> Weight | None:
    return Weight.CAUTION if case.standing.sure else None


def rom_damaged(case: Case) -> Iterable[Hit]:
    """An option ROM whose own headers contradict its bytes: cut short, no PCI Data Structure, a wrong sum, no driver.

    Fine: FFh or 00h behind the last image; no last-image bit before the end; an ISA-style ROM; a legacy initialisation
    size above the image length while its sum holds.
    Refused: a legacy image whose bytes sum to 01h; an EFI initialisation size larger than its image.
    Looks at: the image's size, header offsets 02h and 18h, the length at PCIR+10h, the bytes' sum.
    """
    faults = case.candidate.reading.faults
    return _faulty(case, faults, "rom-damaged", _sure(case)) if faults else ()


def rom_odd(case: Case) -> Iterable[Hit]:
    """Oddities that sound option ROMs show.

    Fine: an option ROM as the standard has it.
    Refused: none; 512 bytes of FFh behind the last image are noted.
    Looks at: the same fields as rom-damaged.
    """
    return _faulty(case, case.candidate.reading.notes, "rom-odd")


def image_hidden(case: Case) -> Iterable[Hit]:
    """The image this role needs lies after one that is marked as the last, so system firmware never reaches it.

    Fine: another image hidden, while the needed one is reached.
    Refused: an EFI image behind a legacy image with the last-image bit, in the role of the UEFI boot ROM.
    Looks at: PCIR+15h of each image.
    """
    if not any(one.hidden for one in case.images):
        return ()
    needed = case.needed_images()
    if not needed or not all(one.hidden for one in needed):
        return ()
    place = place_of(case.candidate)
    evidence = tuple(Evidence(place, "last_image", one.part.offset, None, "reached", "hidden") for one in needed)
    return (Hit("The image this role needs lies after one that is marked as the last.", evidence),)


def blank(case: Case) -> Iterable[Hit]:
    """Nothing but 00h or FFh, whole or in every field of the layout; the piece or its companion.

    Fine: an EEPROM template whose identity fields are empty.
    Refused: 320 bytes of FFh with the size of the family's EEPROM image.
    Looks at: every byte, and every field of the layout.
    """
    hits = list(answered(case, "blank"))
    fill, size = _fill(case.candidate), case.candidate.size
    if not hits and (fill is not None or size == 0):
        hits.append(_blank("It", place_of(case.candidate), size, fill))
    for one, facts in _beside(case) if case.companions else ():
        fill = _fill(facts) if facts is not None else None
        if fill is not None or one.size == 0:
            hits.append(_blank(one.name, _place(case, facts), one.size, fill, one.sha256))
    return hits


def _blank(what: str, place: str, size: int, fill: int | None, piece: str | None = None) -> Hit:
    have = "no bytes" if fill is None else f"{fill:02X}h throughout"
    return Hit(f"{what} is blank: {have}.", (Evidence(place, "bytes", 0, size, "contents", have),), piece=piece)


def _fill(candidate: Candidate) -> int | None:
    """The one byte a piece consists of, as its candidate or its reading says."""
    fill = candidate.fill
    if fill is None and candidate.reading.fields:
        said = candidate.reading.value("fill")
        fill = said if isinstance(said, int) else None
    return fill


def _beside(case: Case) -> Iterable[tuple[Beside, Candidate | None]]:
    """The chosen companions, and what is known of each."""
    chosen = (one.chosen for one in case.companions)
    return [(one, case.asked.candidates.get(one.sha256)) for one in chosen if one is not None]


def _place(case: Case, facts: Candidate | None) -> str:
    return place_of(facts) if facts is not None else f"beside {place_of(case.candidate)}"


def wrong_kind(case: Case) -> Iterable[Hit]:
    """Something else stands where the piece should: a web page, a pointer, hex text, a patch, a program, an archive.

    Fine: an option ROM of several images, one of which is of the role's kind; a companion that is text.
    Refused: the maker's download page saved under the ROM's name, or under the companion's.
    Looks at: the first bytes, and the subsystem at 08h of an EFI image.
    """
    hits = list(answered(case, "wrong-kind"))
    for one, facts in _beside(case) if case.companions else ():
        looks = facts.reading.value("looks") if facts is not None and facts.reading.fields else None
        if looks in NEVER_A_COMPANION:
            text = f"{one.name} is {WRONG_LOOKS[str(looks)]}."
            hits.append(Hit(text, (Evidence(_place(case, facts), "looks", 0, None, "", str(looks)),), piece=one.sha256))
    return hits


def bytes_swapped(case: Case) -> Iterable[Hit]:
    """The EEPROM image fits only after a 16-bit swap, or holds the right image more than once.

    Fine: the image as the layout has it.
    Refused: C0h 12h 08h A5h standing as 12h C0h A5h 08h.
    Looks at: the layout's magic.
    """
    return answered(case, "bytes-swapped")


def archive_damaged(case: Case) -> Iterable[Hit]:
    """The archive entry the piece (or its companion) was read from is damaged, encrypted or not what its headers say.

    Fine: the same bytes lie sound in another place; another member of the archive is damaged, which is noted.
    Refused: the member's CRC-32 differs from its bytes.
    Looks at: the archive's headers, the member's CRC, size and encryption.
    """
    hits: list[Hit] = []
    if case.candidate.member_faults:
        hits.append(_damaged(case.candidate.member_faults, place_of(case.candidate), case.sha256))
    elif case.candidate.beside_faults:
        place = place_of(case.candidate)
        evidence = tuple(Evidence(place, one.code, None, None, "", one.text) for one in case.candidate.beside_faults)
        remedy = "Nothing need be done for this piece; fetch the archive again if the others are wanted."
        hits.append(Hit("Another member of its archive is damaged.", evidence, Weight.NOTE, remedy=remedy))
    for companion in case.companions:
        facts = case.asked.candidates.get(companion.chosen.sha256) if companion.chosen is not None else None
        if facts is not None and facts.member_faults:
            hits.append(_damaged(facts.member_faults, f"beside {place_of(case.candidate)}", facts.sha256))
    return hits


def _damaged(faults: tuple[Fault, ...], place: str, piece: str) -> Hit:
    evidence = tuple(Evidence(place, one.code, one.offset, None, "", one.text) for one in faults)
    return Hit(faults[0].text, evidence, piece=piece)


def data_after_end(case: Case) -> Iterable[Hit]:
    """Bytes behind the end that nothing explains.

    Fine: padding of 00h or FFh, a certificate table.
    Refused: none; 40 bytes of code behind the last image earn a caution.
    Looks at: the offset where what the format explains ends.
    """
    reading = case.candidate.reading
    return _faulty(case, (*reading.faults, *reading.notes), "data-after-end")


def eeprom_sum(case: Case) -> Iterable[Hit]:
    """A sum that the family's layout declares does not hold.

    Fine: a layout that declares no sum.
    Refused: one byte of the image changed and its sum left as it was.
    Looks at: the sum that the layout declares.
    """
    layout, answer = case.wanted.layout, case.layout
    if layout is None or answer is None or answer.sum_ok is not False or layout.sum is None:
        return ()
    total = "as stored" if layout.sum.total is None else f"{layout.sum.total:X}h"
    length = layout.sum.end - layout.sum.start
    place = Evidence(place_of(case.candidate), layout.sum.kind, layout.sum.start, length, total, "another sum")
    return (Hit(f"The {layout.sum.kind} that layout {layout.name} declares does not hold.", (place,), _sure(case)),)


RULES: tuple[Rule[Case], ...] = (
    Rule(
        "rom-damaged", Weight.STOP, rom_damaged, "The option ROM is damaged",
        "Fetch the piece again from its maker and compare its digest.",
        "PCI Firmware Specification 5.1",
    ),
    Rule(
        "rom-odd", Weight.NOTE, rom_odd, "The option ROM has oddities",
        "Nothing need be done; sound ROMs show these too.", "CP",
    ),
    Rule(
        "image-hidden", Weight.CLEARABLE, image_hidden, "System firmware would not reach the image",
        "Use a ROM whose images are joined as the standard has it, with the last-image bit on the last one alone.",
        "PCI Firmware Specification 5.1",
    ),
    Rule(
        "blank", Weight.STOP, blank, "The piece is blank",
        "Never write a blank image: many cards vanish from the bus with one. Fetch the real piece.", "CP",
    ),
    Rule(
        "wrong-kind", Weight.STOP, wrong_kind, "Something else stands where the piece should",
        "Fetch the file itself, or unpack it by the maker's instructions, and index it again.",
        "T IMG.FORMAT",
    ),
    Rule(
        "bytes-swapped", Weight.STOP, bytes_swapped, "The bytes are swapped or repeated",
        "Read the chip again with the programmer's byte order and size set right.", "CP",
    ),
    Rule(
        "archive-damaged", Weight.STOP, archive_damaged, "The archive entry is damaged",
        "Fetch the archive again and compare its digest with the maker's.", "TUF",
    ),
    Rule(
        "data-after-end", Weight.CAUTION, data_after_end, "Unexplained bytes follow the end",
        "Compare the piece with the maker's own; if it came from elsewhere, do not trust the extra bytes.",
        "T IMG.EXTRA",
    ),
    Rule(
        "eeprom-sum", Weight.STOP, eeprom_sum, "The EEPROM image's sum does not hold",
        "Use an unchanged image; if a value was edited on purpose, have the sum made right by whoever answers for it.",
        "CP",
    ),
)  # fmt: skip
