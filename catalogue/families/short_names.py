"""8.3 names, as a DOS types them (ECMA-107; Microsoft FAT specification, quoted in the project's standards notes)."""

from __future__ import annotations

import re

_NAME = re.compile(r"[A-Z0-9!#$%&'()\-@^_`{}~]{1,8}(?:\.[A-Z0-9!#$%&'()\-@^_`{}~]{1,3})?")
DEVICES = frozenset(
    {"CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$", "CLOCK$"}
    | {f"{name}{number}" for name in ("COM", "LPT") for number in "123456789¹²³"}
)
"""Names that mean a device, with any extension (CLOCK$: from memory)."""
OURS = frozenset({"KIT.JSN", "RUNSHEET.TXT", "SHA256.SUM", "RUN.BAT", "RUN.NSH", "KITS.TXT"})
"""Files that the program itself lays beside a kit."""
STARTERS = frozenset({"AUTOEXEC.BAT", "CONFIG.SYS", "STARTUP.NSH"})
"""Names that a system runs by itself."""


def why_not(name: str) -> str:
    """Why `name` is no 8.3 name that a step may make, in words that end a sentence; "" where it is one."""
    if not _NAME.fullmatch(name):
        if _NAME.fullmatch(name.upper()) and name.isascii():
            return f"must stand in upper case, as DOS shows it: {name.upper()}"
        return "is no 8.3 name: up to 8 of A-Z, 0-9 and _ or -, then perhaps a dot and up to 3 more"
    if name.split(".", maxsplit=1)[0] in DEVICES:
        return "is the name of a device in DOS"
    if name in OURS:
        return "is a name that the program gives to a file of its own"
    if name in STARTERS:
        return "is a name that a system starts by itself"
    return ""
