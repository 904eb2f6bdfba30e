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

from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.images import OPTION_ROM, Image
from catalogue.shapes.finding import Evidence
from catalogue.shapes.reading import Field, LayoutAnswer

YES, NO, SILENT = "yes", "no", "silent"
PROGRAMS = frozenset({"dos-program", "windows-program", "linux-program", "efi-application"})
NOT_PIECES = ("text", "checksum-list", "archive/", "signature/", "signature-list/")
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
NO_DRIVERS = frozenset({2, 3, 10})
"""Subsystems of Windows programs and EFI applications (Microsoft PE/COFF specification, "Windows Subsystem")."""


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
    if (kind := _kind(wanted, candidate, images)) is not None:
        found.append(kind)
    if (size := _size(asked, wanted, candidate)) is not None:
        found.append(size)
    return tuple(found)


def fit(wanted: Wanted, found: tuple[Answer, ...]) -> str:
    """yes, no or silent, of all criteria together: a no outweighs all, and only a deciding criterion says yes."""
    says = SILENT
    for one in found:
        if one.says == NO:
            return NO
        if one.says == YES and one.criterion in wanted.role.decide:
            says = YES
    return says


_YES = {criterion: Answer(criterion, YES) for criterion in ("hash", "ids", "has", "layout")}
_SILENT = {criterion: Answer(criterion, SILENT) for criterion in _YES}


def _hash(wanted: Wanted, candidate: Candidate) -> Answer:
    return _YES["hash"] if candidate.sha256 in wanted.known.digests else _SILENT["hash"]


def asked_images(wanted: Wanted, images: tuple[Image, ...]) -> tuple[Image, ...]:
    """The images that the role's `ids` and kind speak of."""
    kind = wanted.asks_images
    if kind is None or all(one.kind == kind for one in images):
        return images
    return tuple(one for one in images if one.kind == kind)


def _ids(wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> Answer:
    if not wanted.cards:
        return _SILENT["ids"]
    wrong: list[Image] = []
    for image in asked_images(wanted, images):
        cards = image.cards
        if cards & wanted.cards:
            return _YES["ids"]
        if cards:
            wrong.append(image)
    if not wrong:
        return _SILENT["ids"]
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
        return _YES["has"]
    for mode, text in wanted.wrong.items():
        if (match := candidate.matches.get(text)) is not None:
            place = Evidence(place_of(candidate), "has", match.offset, match.length, wanted.right or "", text)
            return Answer("has", NO, "other-mode", f'It holds "{text}", the string of mode {mode}.', (place,))
    return _SILENT["has"]


def _layout(asked: Asked, wanted: Wanted, candidate: Candidate) -> Answer:
    layout = wanted.layout
    assert layout is not None
    answer = candidate.layouts.get(layout.name)
    if answer is None or answer.state == "other":
        return _SILENT["layout"]
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
        return _SILENT["layout"]
    values = {name: value for name, value in answer.values.items() if name.startswith("mode.")}
    if _agrees(asked, asked.mode.name, values):
        return _YES["layout"]
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


def _kind(wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> Answer | None:
    """A no, or nothing."""
    kind, have = wanted.kind, candidate.kind
    if kind is not None and has_kind(wanted, candidate, kind):
        if kind in PROGRAMS and _self_extracts(candidate):
            return _wrong_kind(candidate, "It is a self-extractor: the piece is inside it.", kind)
        return _application(wanted, candidate, images) if kind == f"{OPTION_ROM}/efi" else None
    looks = candidate.reading.value("looks") if candidate.reading.fields else None
    if isinstance(looks, str) and looks in WRONG_LOOKS:
        look = Evidence(place_of(candidate), "looks", 0, None, kind or "a piece", looks)
        return Answer("kind", NO, "wrong-kind", f"It is {WRONG_LOOKS[looks]}.", (look,))
    if kind is not None:
        if kind == "dos-program" and _may_be_com(candidate):
            return None
        if kind in PROGRAMS and have in PROGRAMS:
            text = f"It is a program of the kind {have}; this bench runs {kind}."
            return _wrong_kind(candidate, text, kind, "other-bench")
        return _wrong_kind(candidate, f"It is {have}; this role takes {kind}.", kind)
    if have.startswith(NOT_PIECES):
        return _wrong_kind(candidate, f"It is {have}, which is no piece for a card.")
    if have in PROGRAMS and _self_extracts(candidate):
        return _wrong_kind(candidate, "It is a self-extractor: the piece is inside it.")
    if have in PROGRAMS and have in wanted.kinds:
        text = f"It is a program of the kind {have}, for another bench."
        return _wrong_kind(candidate, text, code="other-bench")
    return None


def _wrong_kind(candidate: Candidate, text: str, kind: str = "a piece", code: str = "wrong-kind") -> Answer:
    return Answer("kind", NO, code, text, (Evidence(place_of(candidate), "kind", 0, None, kind, candidate.kind),))


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
    if (
        candidate.kind != "opaque"
        or candidate.reading.format != "opaque"
        or not 0 < candidate.size <= MOST_COM
        or candidate.fill is not None
    ):
        return False
    return any(str(place).lower().endswith(".com") for place in candidate.places)


def _self_extracts(candidate: Candidate) -> bool:
    reading = candidate.reading
    return any(one.code == "self-extracting" for one in reading.notes) or any(
        part.kind.startswith("archive/") for part in reading.parts
    )


def _application(wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> Answer | None:
    """An application where a driver should be, in every image that could serve."""
    right = [one for one in asked_images(wanted, images) if not wanted.cards or one.cards & wanted.cards]
    wrong = [one for one in right if _subsystems(one) & NO_DRIVERS]
    if not wrong or len(wrong) < len(right):
        return None
    have = [str(min(_subsystems(one) & NO_DRIVERS)) for one in wrong]
    evidence = tuple(
        at_field(candidate, one.field("efi_subsystem"), "11 or 12", said) for one, said in zip(wrong, have, strict=True)
    )
    text = f"Its EFI image is an application (subsystem {have[0]}); a card's ROM carries a driver."
    return Answer("kind", NO, "wrong-kind", text, evidence)


def _subsystems(image: Image) -> set[int]:
    said = (image.part.value("efi_subsystem"), *(part.value("subsystem") for part in image.part.parts))
    return {one for one in said if isinstance(one, int)}


def _size(asked: Asked, wanted: Wanted, candidate: Candidate) -> Answer | None:
    """A no, or nothing."""
    role, size, layout = wanted.role, candidate.size, wanted.layout
    flash = asked.family.card.flash
    if role.size is not None and not role.size[0] <= size <= role.size[1]:
        least, most = role.size
        want = f"{least} bytes" if least == most else f"{least} to {most} bytes"
        return _wrong_size(candidate, f"It is {size} bytes long; this role takes {want}.", want)
    if layout is not None and size != layout.size and _unknown_to(wanted, candidate):
        want = f"{layout.size} bytes"
        return _wrong_size(candidate, f"It is {size} bytes long; layout {layout.name} is exactly {want}.", want)
    if role.written and flash is not None and size > flash:
        return _wrong_size(candidate, f"It is {size} bytes long; the flash holds {flash}.", f"at most {flash} bytes")
    if candidate.reading.faults and candidate.kind in PROGRAMS:
        cut = next((one for one in candidate.reading.faults if one.code == "cut-short"), None)
        if cut is not None:
            return _wrong_size(candidate, f"The program is cut short. {cut.text}", "a whole program", cut.offset)
    return None


def _unknown_to(wanted: Wanted, candidate: Candidate) -> bool:
    """Whether the role's layout says nothing of the piece, so that its size alone speaks."""
    answer = candidate.layouts.get(wanted.role.layout or "")
    return answer is None or answer.state == "other"


def _wrong_size(candidate: Candidate, text: str, want: str, offset: int | None = None) -> Answer:
    shown = Evidence(place_of(candidate), "size", offset, None, want, f"{candidate.size} bytes")
    return Answer("size", NO, "wrong-size", text, (shown,))
