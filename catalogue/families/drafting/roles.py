"""Which job each piece of the folder does: firmware, boot ROMs, EEPROM image, utility with companions, notes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.families.drafting.given import Piece, Text
from catalogue.families.drafting.layouts import SeenLayout

BENCH = {"dos-program": "dos", "efi-application": "uefi", "linux-program": "linux"}
"""The bench on which each kind of program runs."""
ROMS = {"option-rom/legacy-x86": "legacy-boot-rom", "option-rom/efi": "uefi-boot-rom"}
FIRMWARE, EEPROM, WRITER, NOTES = "firmware", "eeprom-image", "writer", "notes"
ORDER = (FIRMWARE, *ROMS.values(), EEPROM, WRITER, NOTES)
LEAST_FIRMWARE = 16 << 10
MOST_WRITERS = 64
MOST_BESIDE = 32


@dataclass(frozen=True, slots=True)
class Companion:
    """A file that lies beside a utility and is spoken of: in the utility's bytes, or in a text."""

    name: str
    bench: str
    source: str


@dataclass(frozen=True, slots=True)
class Sorted:
    """The pieces by role; companions; what found no role, with the reason."""

    roles: dict[str, tuple[Piece, ...]]
    companions: tuple[Companion, ...]
    left: tuple[tuple[Piece, str], ...]


def sort_pieces(
    pieces: Iterable[Piece], layout: SeenLayout | None, texts: tuple[Text, ...], listings: set[str]
) -> Sorted:
    """Every piece in its role. `listings` are the SHA-256s of texts that are a card's own."""
    held = tuple(pieces)
    roles: dict[str, list[Piece]] = {name: [] for name in ORDER}
    loose: list[Piece] = []
    images = {one.sha256 for one in layout.images} if layout else set()
    for piece in held:
        found = [ROMS[kind] for kind in piece.kinds() if kind in ROMS]
        if piece.sha256 in images:
            found = [EEPROM]
        elif piece.kind in BENCH and not piece.name.upper().endswith(".COM"):
            found = [WRITER]
        elif piece.kind == "text" and piece.sha256 not in listings:
            found = [NOTES]
        elif piece.kind == "opaque" and piece.size >= LEAST_FIRMWARE and piece.versions:
            found = [FIRMWARE]
        for role in found:
            roles[role].append(piece)
        if not found:
            loose.append(piece)
    companions = tuple(_companions(roles[WRITER], loose, texts))
    named = {one.name.casefold() for one in companions}
    left = tuple(
        (one, _why(one)) for one in loose if one.name.casefold() not in named and one.sha256 not in listings
    )
    return Sorted({name: tuple(found) for name, found in roles.items() if found}, companions, left)


def _companions(writers: list[Piece], loose: list[Piece], texts: tuple[Text, ...]) -> Iterable[Companion]:
    done: set[tuple[str, str]] = set()
    for writer in writers[:MOST_WRITERS]:
        folders = {_folder(place) for place in writer.places}
        upper = writer.data.upper()
        tried = 0
        for piece in loose:
            if not folders & {_folder(place) for place in piece.places} or not _is_name(piece.name):
                continue
            tried += 1
            source = _spoken_of(piece.name, writer, upper, texts) if tried <= MOST_BESIDE else ""
            key = (piece.name.casefold(), BENCH[writer.kind])
            if source and key not in done:
                done.add(key)
                yield Companion(piece.name, BENCH[writer.kind], source)


def _spoken_of(name: str, writer: Piece, upper: bytes, texts: tuple[Text, ...]) -> str:
    at = upper.find(name.upper().encode("ascii", "replace"))
    if at >= 0:
        return writer.at(at)
    for text in texts:
        for number, line in enumerate(text.lines):
            if name.casefold() in line.casefold():
                return text.at(number)
    return ""


def _is_name(name: str) -> bool:
    return len(name) >= 5 and "." in name[1:-1] and name.isascii() and name.isprintable()


def _folder(place: str) -> str:
    return place[: max(place.rfind("/"), place.rfind("\\"), place.rfind("›")) + 1]


def _why(piece: Piece) -> str:
    if piece.kind == "windows-program":
        return "a Windows program, which no bench runs"
    if not piece.data.strip(piece.data[:1]):
        return "nothing but one byte throughout"
    return "nothing in it tells what it is for"
