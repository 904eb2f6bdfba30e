"""KITS.TXT at the root of a medium: which kits lie here, in plain words, rewritten each time one is written.

ASCII and CR LF. Its last line holds the SHA-256 of all before it, so that a medium that loses bytes is noticed here
too.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.media.run_sheet import plain

TITLE = "KITS ON THIS MEDIUM"
MAX_BYTES = 262_144
MAX_KIT = 4_096
"""Bytes of the list that are set aside on a medium before it is written."""
MARK = "  Folder "
_LAST = "SHA-256 of the lines above:"


class NotOurs(ValueError):
    """The bytes are no list of ours."""


class Damaged(ValueError):
    """The list is ours, and its bytes are not what was written."""


@dataclass(frozen=True, slots=True)
class KitLine:
    """One whole kit on the medium, as the list tells of it."""

    code: str
    family_title: str
    route: str
    kit_id: str


def text(kits: Iterable[KitLine]) -> bytes:
    """The list, in the order of the folders' names."""
    lines = [
        TITLE,
        "",
        "Each folder is one kit for one kind of card and one way of converting it.",
        "Read RUNSHEET.TXT in the folder before you type anything.",
        "A folder without SHA256.SUM is no kit: do not use it.",
        "The card maker's own instructions come first.",
        "",
    ]
    for kit in sorted(kits, key=lambda one: one.code):
        lines += [f"{MARK}{kit.code}"]
        lines += [
            f"    {part}"[:79] for part in (plain(kit.family_title), plain(kit.route), f"Kit id {plain(kit.kit_id)}")
        ]
        lines += [""]
    body = "".join(f"{line.rstrip()}\r\n" for line in lines).encode("ascii")
    return body + f"{_LAST}\r\n{hashlib.sha256(body).hexdigest()}\r\n".encode("ascii")


def codes(data: bytes) -> tuple[str, ...]:
    """The folders that the list names.

    Raises NotOurs where the bytes do not begin as our list does, Damaged where they are not what was written.
    """
    if not is_ours(data):
        raise NotOurs("it does not begin as our list does")
    body, found, behind = data.rpartition(_LAST.encode("ascii"))
    if not found or behind != f"\r\n{hashlib.sha256(body).hexdigest()}\r\n".encode("ascii"):
        raise Damaged("its own SHA-256 does not fit")
    lines = body.decode("ascii", errors="replace").split("\r\n")
    return tuple(line.removeprefix(MARK) for line in lines if line.startswith(MARK))


def is_ours(data: bytes) -> bool:
    """Whether a file called KITS.TXT begins as ours does."""
    return data.startswith(f"{TITLE}\r\n".encode("ascii"))
