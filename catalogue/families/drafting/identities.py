"""Identity out of saved texts: addresses by their form, a serial by standing in a dump of the card too.

An address of 64 bits whose first digit is 5 is one in the NAA "IEEE Registered" form (INCITS T10, SPC: the company's
24 bits follow); one of 48 bits begins with the company's 24 (IEEE 802). Company IDs are read from them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.families.drafting.given import Piece, Text
from catalogue.families.drafting.labels import Labelled, block_of, cells, gives, labelled

SAS, MAC, SERIAL = "sas-address", "mac", "text"
NAMES = {SAS: "sas", MAC: "mac", SERIAL: "serial"}
MOST_DUMP = 64 << 10
_ADDRESS = re.compile(r"(?:0x)?([0-9A-Fa-f]{2}(?:[:. -]?[0-9A-Fa-f]{2}){5}(?:(?:[:. -]?[0-9A-Fa-f]{2}){2})?)")
_SERIAL = re.compile(r"(?=(?:[A-Za-z-]*[0-9]){3})[A-Za-z0-9-]{5,32}")


@dataclass(frozen=True, slots=True)
class SeenIdentity:
    """One identity: its pattern or column, the value as the text gives it, and where. `short`: a dump has fewer 0s."""

    kind: str
    value: str
    source: str
    find: str = ""
    column: str = ""
    short: bool = False

    @property
    def name(self) -> str:
        """sas, mac or serial."""
        return NAMES[self.kind]

    @property
    def number(self) -> int:
        """An address as a number."""
        return int(self.digits, 16)

    @property
    def digits(self) -> str:
        """An address without its separators."""
        return re.sub(r"[^0-9A-Fa-f]", "", self.value.removeprefix("0x"))

    @property
    def oui(self) -> str:
        """The company's 24 bits, as six hex digits."""
        return (self.digits[1:7] if self.kind == SAS else self.digits[:6]).upper()


@dataclass(frozen=True, slots=True)
class SeenListing:
    """How a text divides into adapters, and what it gives. `rest` are labelled lines nobody asked for yet."""

    text: Text
    identities: tuple[SeenIdentity, ...]
    block: str = ""
    block_source: str = ""
    slot: str = ""
    columns: bool = False
    head_source: str = ""
    rest: tuple[Labelled, ...] = ()


def address_kind(value: str, label: str) -> str:
    """sas-address, mac, or "" for what is no address."""
    found = _ADDRESS.fullmatch(value)
    if not found:
        return ""
    digits = re.sub(r"[^0-9A-Fa-f]", "", found[1])
    if len(digits) == 16:
        return SAS if digits[0] == "5" else ""
    said = len(found[1]) > 12 or re.search(r"\b(?:mac|address)\b", label, re.IGNORECASE)
    return MAC if said and not int(digits[:2], 16) & 1 and int(digits, 16) else ""


def is_listing(text: Text) -> bool:
    """Whether a text looks like a card's listing: it gives an address behind a label or under a head."""
    return bool(_by_labels(text, ())) or bool(_by_columns(text, ()))


def seen_listing(texts: Iterable[Text], dumps: Iterable[Piece]) -> SeenListing | None:
    """The first text that gives an address, read; None where none does."""
    held = tuple(dumps)
    for text in texts:
        found = _by_labels(text, held)
        if found:
            return found
        found = _by_columns(text, held)
        if found:
            return found
    return None


def _by_labels(text: Text, dumps: tuple[Piece, ...]) -> SeenListing | None:
    rows = labelled(text.lines)
    used: dict[str, tuple[Labelled, SeenIdentity]] = {}
    for one in rows:
        kind = address_kind(one.value, one.label)
        if kind and kind not in used and gives(text.lines, one):
            used[kind] = one, SeenIdentity(kind, one.value, text.at(one.number), find=one.pattern())
    if not used:
        return None
    dumps = _of_card(dumps, [one for _row, one in used.values()])
    for one in rows:
        if SERIAL not in used and (serial := _serial(one.value, one.label, text.at(one.number), dumps)):
            used[SERIAL] = one, SeenIdentity(SERIAL, one.value, serial[0], find=one.pattern(), short=serial[1])
    first = min((one for one, _ in used.values()), key=lambda one: one.number)
    block = block_of(rows, first)
    taken = {one.label for one, _ in used.values()} | ({block.label} if block else set())
    rest = tuple({one.label: one for one in rows if one.label not in taken}.values())
    identities = tuple(one for _, one in used.values())
    if block is None:
        return SeenListing(text, identities, rest=rest)
    return SeenListing(text, identities, block.pattern("slot"), text.at(block.number), block.value, rest=rest)


def _by_columns(text: Text, dumps: tuple[Piece, ...]) -> SeenListing | None:
    for number, line in enumerate(text.lines[:2_000]):
        row = cells(line)
        if len(row) < 3 or not any(address_kind(one, "address") for one in row):
            continue
        for above in range(number - 1, max(-1, number - 6), -1):
            heads = cells(text.lines[above])
            if len(heads) != len(row) or len(set(heads)) != len(heads) or not all(one.isascii() for one in heads):
                continue
            if any(address_kind(one, "address") for one in heads) or not all(any(map(str.isalpha, h)) for h in heads):
                continue
            found: dict[str, SeenIdentity] = {}
            for head, value in zip(heads, row, strict=True):
                kind = address_kind(value, "address")
                if kind:
                    found.setdefault(kind, SeenIdentity(kind, value, text.at(number), column=head))
            own = _of_card(dumps, list(found.values()))
            for head, value in zip(heads, row, strict=True):
                if SERIAL not in found and (serial := _serial(value, head, text.at(number), own)):
                    found[SERIAL] = SeenIdentity(SERIAL, value, serial[0], column=head, short=serial[1])
            return SeenListing(text, tuple(found.values()), columns=True, head_source=text.at(above))
    return None


def _of_card(dumps: tuple[Piece, ...], identities: list[SeenIdentity]) -> tuple[Piece, ...]:
    """The dumps that hold an address of this very card, in either order of bytes."""
    forms = [bytes.fromhex(one.digits) for one in identities]
    sought = (*forms, *(one[::-1] for one in forms))
    return tuple(one for one in dumps if one.size <= MOST_DUMP and any(form in one.data for form in sought))


def _serial(value: str, label: str, source: str, dumps: tuple[Piece, ...]) -> tuple[str, bool] | None:
    """Where a serial was read, and whether a dump holds it with fewer zeros; None where nothing says it is one."""
    if not _SERIAL.fullmatch(value) or address_kind(value, label):
        return None
    for form in dict.fromkeys((value, value.lstrip("0"))):
        for dump in dumps:
            at = dump.data.find(form.encode("ascii")) if len(form) >= 5 and dump.size <= MOST_DUMP else -1
            if at >= 0:
                return f"{source}; {dump.at(at)}", form != value
    return (source, False) if re.search(r"\bserial\b", label, re.IGNORECASE) else None
