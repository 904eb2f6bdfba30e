"""Single values of a family file, from text. A parser's ValueError has the words that end the problem's sentence."""

from __future__ import annotations

import re

from catalogue.families.model import IdPattern
from catalogue.families.patterns import placeholder_of, tokens

_ID = re.compile(r"([0-9A-Fa-f]{4}):([0-9A-Fa-f]{4})(?:/([0-9A-Fa-f]{4}):([0-9A-Fa-f]{4}))?")
_PAIR = re.compile(r"([0-9A-Fa-f]{4}):([0-9A-Fa-f]{4})")
_HEX6 = re.compile(r"[0-9A-Fa-f]{6}")
_SHA256 = re.compile(r"[0-9A-Fa-f]{64}")
_BYTES = re.compile(r"[0-9A-Fa-f]{2}(?:[ ]?[0-9A-Fa-f]{2})*")
_BYTE = re.compile(r"[0-9A-Fa-f]{2}")


def pci_id(text: str) -> IdPattern:
    """`VVVV:DDDD` or `VVVV:DDDD/SSSS:ssss`. Vendors 0000h and FFFFh are nobody's (PCI Local Bus 3.0, 6.2.1)."""
    found = _ID.fullmatch(text)
    if not found:
        raise ValueError("an ID is four hex digits, a colon, four hex digits; a subsystem follows a slash likewise")
    vendor, device, *sub = (int(part, 16) if part else None for part in found.groups())
    if vendor is None or device is None or vendor in {0, 0xFFFF}:
        raise ValueError("vendor 0000 and FFFF belong to nobody")
    return IdPattern(vendor, device, *sub)


def subsystem(text: str) -> tuple[int, int]:
    """`SSSS:ssss`, the subsystem's vendor and the subsystem."""
    found = _PAIR.fullmatch(text)
    if not found:
        raise ValueError("a subsystem is four hex digits, a colon, four hex digits")
    return int(found.group(1), 16), int(found.group(2), 16)


def hex24(text: str) -> int:
    """Six hex digits: a class code, a company ID (OUI)."""
    if not _HEX6.fullmatch(text):
        raise ValueError("six hex digits are wanted")
    return int(text, 16)


def sha256(text: str) -> str:
    """A SHA-256, in lower case."""
    if not _SHA256.fullmatch(text):
        raise ValueError("a SHA-256 is 64 hex digits")
    return text.lower()


def hex_bytes(text: str) -> bytes:
    """Bytes as hex digit pairs, with or without blanks between."""
    if not _BYTES.fullmatch(text):
        raise ValueError("pairs of hex digits are wanted, such as C0 12 08 A5")
    return bytes.fromhex(text)


def hex_byte(text: str) -> int:
    """One byte as two hex digits."""
    if not _BYTE.fullmatch(text):
        raise ValueError("two hex digits are wanted")
    return int(text, 16)


def version_pattern(text: str) -> str:
    """A pattern with `{version}`."""
    return _pattern(text, "version")


def value_pattern(text: str) -> str:
    """A pattern with `{value}`."""
    return _pattern(text, "value")


def block_pattern(text: str) -> str:
    """A pattern that begins an adapter's block, with or without `{slot}`."""
    tokens(text)
    if placeholder_of(text) not in {None, "slot"}:
        raise ValueError("only {slot} can stand in it")
    return text


def _pattern(text: str, wanted: str) -> str:
    tokens(text)
    if placeholder_of(text) != wanted:
        raise ValueError(f"{{{wanted}}} must stand in it, for what is to be read")
    return text


def has_text(text: str) -> str:
    """A plain string that a piece's bytes hold."""
    if not text.isascii():
        raise ValueError("only ASCII text can be looked for")
    if placeholder_of(text):
        raise ValueError("it is a plain string, without placeholders")
    return text
