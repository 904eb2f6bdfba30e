"""Saved listings of cards, read from files: in UTF-8, in UTF-16 with its mark, or in an older code page."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families.model import Family
from catalogue.families.saved_text import adapters
from catalogue.shapes.card import CardFacts
from catalogue.shapes.kit import SavedUsed

MOST_BYTES = 4 << 20


def data_of(file: Path) -> bytes:
    """The bytes of a saved text. Raises BadCall where it cannot be read, or is too long for a listing."""
    try:
        with file.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise BadCall(f"The saved text {file} cannot be read: {error.strerror or error}.") from error
    if len(data) > MOST_BYTES:
        raise BadCall(f"The saved text {file} is longer than {MOST_BYTES >> 20} MiB.")
    return data


def text_of(data: bytes) -> str:
    """What the bytes of a saved text say."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp437")


def cards_in(files: Sequence[Path], family: Family) -> tuple[tuple[CardFacts, ...], tuple[SavedUsed, ...]]:
    """Every card that the files show, and the files as they are used.

    Raises BadCall where one cannot be read, or shows no card of the family.
    """
    found: list[CardFacts] = []
    used: list[SavedUsed] = []
    for file in files:
        data = data_of(file)
        cards = adapters(text_of(data), family, str(file))
        told = [one for one in cards if one.mode or one.state or one.versions or one.identities or one.revision]
        if not told:
            raise BadCall(f"Nothing in {file} is told the way {family.id} says; is it a listing of this family's card?")
        found += told
        used.append(SavedUsed(str(file.absolute()), hashlib.sha256(data).hexdigest()))
    return tuple(found), tuple(used)


def is_bytes(data: bytes) -> bool:
    """Whether a saved file is a dump of bytes and no text: it holds a NUL, and is not UTF-16 by its mark."""
    return b"\0" in data and not data.startswith((b"\xff\xfe", b"\xfe\xff"))
