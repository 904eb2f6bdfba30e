"""How each criterion of a role answers for one piece: yes, no or silent, with what shows it.

Decisions on sentences of the contract:
- `ids` asks every image of the role's code type. One that says yes is enough: system firmware takes the image that
  names the card and passes over the others (PCI Firmware Specification 5.1). What the others name is judged by
  `images-disagree`.
- A mode that the file does not know wants no ID; then `ids` is silent, and the family is unsettled anyway.
- `layout`: every `mode.*` field must agree with one of the wanted mode's IDs. A subsystem field counts only where that
  ID has a subsystem.
- `.COM`: a program without any magic. Where a DOS program is wanted, opaque bytes of at most 65,280 that bear the name
  in some place leave `kind` silent.
- The kind `eeprom-image` is never stored; a piece has it where the role's layout knows it.
- A program that carries an archive behind it is a self-extractor, whatever kind its head has.
- A role whose `kind` says nothing for this bench takes no program of another bench, and else what a role without a
  kind takes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.images import OPTION_ROM, Image
from catalogue.shapes.finding import Evidence
from catalogue.shapes.reading import Field, LayoutAnswer

YES, NO, SILENT = "yes", "no", "silent"
PROGRAMS = frozenset({"dos-program", "windows-program", "linux-program", "efi-application"})
NOT_PIECES = ("text", "checksum-list", "archive/")
"""What a role without a kind does not take."""
WRONG_LOOKS = {
    "web-page": "a web page",
    "pointer-file": "a pointer to a file, not the file",
    "hex-text": "the bytes as hex text",
    "patch": "a patch for another file",
}
MOST_COM = 65_280
"""A COM program's largest size: 64 KiB less the program segment prefix of 100h bytes."""
EEPROM = "eeprom-image"
EFI_APPLICATION = 10
"""PE/COFF subsystem of an EFI application (Microsoft PE/COFF specification, "Windows Subsystem")."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What one criterion says. A no carries the code of the rule that reports it, with text and evidence."""

    criterion: str
    says: str
    code: str = ""
    text: str = ""
    evidence: tuple[Evidence, ...] = ()


def place_of(candidate: Candidate) -> str:
    """Where the piece lies, for evidence; its SHA-256 where no place is left."""
    return str(candidate.places[0]) if candidate.places else f"SHA-256 {candidate.sha256}"


def at_field(candidate: Candidate, field: Field, want: str = "", have: str = "") -> Evidence:
    """Evidence in a field of the piece."""
    length = field.length or None if field.offset is not None else None
    return Evidence(place_of(candidate), field.name, field.offset, length, want, have)


def answers(asked: Asked, wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> tuple[Answer, ...]:
    """Every criterion the role has, in a fixed order; `kind` and `size` only where they say no."""
    role = wanted.role
    found: list[Answer] = []
    if "hash" in role.decide:
        found.append(_hash(wanted, candidate))
    if role.ids is not None:
        found.append(_ids(wanted, candidate, images))
    if role.has:
        found.append(_has(wanted, candidate))
    if wanted.layout is not None:
        found.append(_layout(asked, wanted, candidate))
    found.extend(_kind(wanted, candidate, images))
    found.extend(_size(asked, wanted, candidate))
    return tuple(found)


def fit(wanted: Wanted, found: tuple[Answer, ...]) -> str:
    """yes, no or silent, of all criteria together: a no outweighs all, and only a deciding criterion says yes."""
    if any(one.says == NO for one in found):
        return NO
    return YES if any(one.says == YES and one.criterion in wanted.role.decide for one in found) else SILENT


def _hash(wanted: Wanted, candidate: Candidate) -> Answer:
    return Answer("hash", YES if candidate.sha256 in wanted.known.digests else SILENT)


def asked_images(wanted: Wanted, images: tuple[Image, ...]) -> tuple[Image, ...]:
    """The images that the role's `ids` and kind speak of."""
    kind = wanted.asks_images
    return images if kind is None else tuple(one for one in images if one.kind == kind)


def _ids(wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> Answer:
    if not wanted.cards:
        return Answer("ids", SILENT)
    wrong: list[Image] = []
    for image in asked_images(wanted, images):
        cards = image.cards
        if cards & wanted.cards:
            return Answer("ids", YES)
        if cards:
            wrong.append(image)
    if not wrong:
        return Answer("ids", SILENT)
    mode = next((wanted.others[card] for one in wrong for card in sorted(one.cards) if card in wanted.others), None)
    want = ", ".join(f"{vendor:04X}:{device:04X}" for vendor, device in sorted(wanted.cards))
    have = ", ".join(f"{vendor:04X}:{device:04X}" for vendor, device in sorted(wrong[0].cards))
    text = (
        f"It names {have}, the IDs of mode {mode}; this role takes {want}."
        if mode
        else (f"It names {have}; this role takes {want}.")
    )
    evidence = tuple(
        at_field(candidate, one.field("device_id"), want, f"{one.vendor:04X}:{one.device:04X}") for one in wrong
    )
    return Answer("ids", NO, "other-mode" if mode else "other-family", text, evidence)


def _has(wanted: Wanted, candidate: Candidate) -> Answer:
    if wanted.right is not None and wanted.right in candidate.matches:
        return Answer("has", YES)
    for mode, text in wanted.wrong.items():
        if (match := candidate.matches.get(text)) is not None:
            place = Evidence(place_of(candidate), "has", match.offset, match.length, wanted.right or "", text)
            return Answer("has", NO, "other-mode", f'It holds "{text}", the string of mode {mode}.', (place,))
    return Answer("has", SILENT)


def _layout(asked: Asked, wanted: Wanted, candidate: Candidate) -> Answer:
    layout = wanted.layout
    assert layout is not None
    answer = candidate.layouts.get(layout.name)
    if answer is None or answer.state == "other":
        return Answer("layout", SILENT)
    if answer.state == "fits":
        return _mode_fields(asked, wanted, candidate, answer)
    where = place_of(candidate)
    magic = layout.magic.hex(" ").upper()
    at_magic = Evidence(where, "magic", layout.magic_at, len(layout.magic), magic, answer.state)
    if answer.state == "size":
        sizes = Evidence(where, "size", None, None, f"{layout.size} bytes", f"{candidate.size} bytes")
        text = f"It is {candidate.size} bytes long; layout {layout.name} is {layout.size}."
        return Answer("layout", NO, "wrong-size", text, (sizes,))
    if answer.state == "blank":
        text = f"It has the size of layout {layout.name} and holds nothing but fill."
        return Answer("layout", NO, "blank", text, (Evidence(where, "bytes", 0, candidate.size, magic, "00h or FFh"),))
    if answer.state == "swapped":
        return Answer("layout", NO, "bytes-swapped", "The magic fits only with each two bytes swapped.", (at_magic,))
    return Answer("layout", NO, "bytes-swapped", "It holds the right image more than once.", (at_magic,))


def _mode_fields(asked: Asked, wanted: Wanted, candidate: Candidate, answer: LayoutAnswer) -> Answer:
    if asked.mode is None:
        return Answer("layout", SILENT)
    values = {name: value for name, value in answer.values.items() if name.startswith("mode.")}
    if _agrees(asked, asked.mode.name, values):
        return Answer("layout", YES)
    other = next((mode for mode in sorted(asked.family.modes) if _agrees(asked, mode, values)), None)
    have = ", ".join(f"{name} {_hex(value)}" for name, value in sorted(values.items()))
    want = ", ".join(f"{one.vendor:04X}:{one.device:04X}" for one in asked.mode.ids)
    evidence = tuple(
        at_field(candidate, one, want, _hex(one.value)) for one in answer.fields if one.name.startswith("mode.")
    )
    text = f"It is made for {'mode ' + other if other else 'another card'} ({have}); mode {asked.mode.name} is {want}."
    where = evidence or (Evidence(place_of(candidate), "mode", None, None, want, have),)
    return Answer("layout", NO, "other-mode" if other else "other-family", text, where)


def _hex(value: object) -> str:
    return f"{value:04X}" if isinstance(value, int) else str(value)


def _agrees(asked: Asked, mode: str, values: Mapping[str, object]) -> bool:
    """Whether the fields agree with one of the mode's IDs; a layout without `mode.*` fields agrees with all."""
    if not values:
        return True
    for one in asked.family.modes[mode].ids:
        shown = {
            "mode.vendor": one.vendor,
            "mode.device": one.device,
            "mode.subvendor": one.subvendor,
            "mode.subdevice": one.subdevice,
        }
        if all(shown.get(name) in (None, value) for name, value in values.items()):
            return True
    return False


def _kind(wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> Iterator[Answer]:
    """At most one answer, and only a no."""
    kind, have = wanted.kind, candidate.kind
    where = place_of(candidate)
    shown = Evidence(where, "kind", 0, None, kind or "a piece", have)
    looks = candidate.reading.value("looks")
    if kind is not None and has_kind(wanted, candidate, kind):
        if kind in PROGRAMS and _self_extracts(candidate):
            yield Answer("kind", NO, "wrong-kind", "It is a self-extractor: the piece is inside it.", (shown,))
        elif kind == f"{OPTION_ROM}/efi":
            yield from _application(wanted, candidate, images)
        return
    if isinstance(looks, str) and looks in WRONG_LOOKS:
        look = Evidence(where, "looks", 0, None, kind or "a piece", looks)
        yield Answer("kind", NO, "wrong-kind", f"It is {WRONG_LOOKS[looks]}.", (look,))
    elif kind is not None:
        if kind == "dos-program" and _may_be_com(candidate):
            return
        if kind in PROGRAMS and have in PROGRAMS:
            text = f"It is a program of the kind {have}; this bench runs {kind}."
            yield Answer("kind", NO, "other-bench", text, (shown,))
        else:
            yield Answer("kind", NO, "wrong-kind", f"It is {have}; this role takes {kind}.", (shown,))
    elif have.startswith(NOT_PIECES):
        yield Answer("kind", NO, "wrong-kind", f"It is {have}, which is no piece for a card.", (shown,))
    elif have in PROGRAMS and _self_extracts(candidate):
        yield Answer("kind", NO, "wrong-kind", "It is a self-extractor: the piece is inside it.", (shown,))
    elif have in PROGRAMS and have in wanted.kinds:
        text = f"It is a program of the kind {have}, for another bench."
        yield Answer("kind", NO, "other-bench", text, (shown,))


def has_kind(wanted: Wanted, candidate: Candidate, kind: str) -> bool:
    """Whether the piece is of `kind`, itself or by one of its images."""
    if candidate.kind == kind:
        return True
    if kind == EEPROM:
        names = (wanted.layout.name,) if wanted.layout is not None else tuple(candidate.layouts)
        return any(name in candidate.layouts and candidate.layouts[name].state != "other" for name in names)
    if candidate.kind.startswith(OPTION_ROM):
        return kind == OPTION_ROM or any(part.kind == kind for part in candidate.reading.parts)
    return False


def _may_be_com(candidate: Candidate) -> bool:
    """Whether opaque bytes may be a COM program, which has no magic: its name is the only hint."""
    if candidate.kind != "opaque" or not 0 < candidate.size <= MOST_COM or candidate.fill is not None:
        return False
    return any(str(place).lower().endswith(".com") for place in candidate.places)


def _self_extracts(candidate: Candidate) -> bool:
    reading = candidate.reading
    return any(one.code == "self-extracting" for one in reading.notes) or any(
        part.kind.startswith("archive/") for part in reading.parts
    )


def _application(wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> Iterator[Answer]:
    """An EFI application where a driver should be, in every image that could serve."""
    right = [one for one in asked_images(wanted, images) if not wanted.cards or one.cards & wanted.cards]
    wrong = [one for one in right if EFI_APPLICATION in _subsystems(one)]
    if wrong and len(wrong) == len(right):
        evidence = tuple(at_field(candidate, one.field("efi_subsystem"), "11 or 12", "10") for one in wrong)
        text = "Its EFI image is an application (subsystem 10); a card's ROM carries a driver."
        yield Answer("kind", NO, "wrong-kind", text, evidence)


def _subsystems(image: Image) -> set[object]:
    return {image.part.value("efi_subsystem"), *(part.value("subsystem") for part in image.part.parts)}


def _size(asked: Asked, wanted: Wanted, candidate: Candidate) -> Iterator[Answer]:
    """At most one answer, and only a no."""
    role, size = wanted.role, candidate.size
    evidence = Evidence(place_of(candidate), "size", None, None, "", f"{size} bytes")
    if role.size is not None and not role.size[0] <= size <= role.size[1]:
        least, most = role.size
        want = f"{least} bytes" if least == most else f"{least} to {most} bytes"
        yield _wrong_size(f"It is {size} bytes long; this role takes {want}.", evidence, want)
    elif wanted.layout is not None and _unknown_to(wanted, candidate) and size != wanted.layout.size:
        want = f"{wanted.layout.size} bytes"
        yield _wrong_size(f"It is {size} bytes long; layout {wanted.layout.name} is exactly {want}.", evidence, want)
    elif role.written and asked.family.card.flash is not None and size > asked.family.card.flash:
        want = f"at most {asked.family.card.flash} bytes"
        yield _wrong_size(f"It is {size} bytes long; the card's flash holds {asked.family.card.flash}.", evidence, want)
    elif (cut := _cut_short(candidate)) is not None:
        yield Answer("size", NO, "wrong-size", f"The program is cut short. {cut[0]}", (cut[1],))


def _unknown_to(wanted: Wanted, candidate: Candidate) -> bool:
    """Whether the role's layout says nothing of the piece, so that its size alone speaks."""
    answer = candidate.layouts.get(wanted.role.layout or "")
    return answer is None or answer.state == "other"


def _wrong_size(text: str, evidence: Evidence, want: str) -> Answer:
    shown = Evidence(evidence.place, evidence.field, None, None, want, evidence.have)
    return Answer("size", NO, "wrong-size", text, (shown,))


def _cut_short(candidate: Candidate) -> tuple[str, Evidence] | None:
    """A program shorter than its own headers say."""
    for fault in candidate.reading.faults:
        if fault.code == "cut-short" and candidate.kind in PROGRAMS:
            where = Evidence(
                place_of(candidate), "size", fault.offset, None, "a whole program", f"{candidate.size} bytes"
            )
            return fault.text, where
    return None
