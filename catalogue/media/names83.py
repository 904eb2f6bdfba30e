"""8.3 names that a DOS prompt, a UEFI shell and every file system for media can hold and a person can read.

Sources: ECMA-107 (FAT volumes) and Microsoft's FAT specification, its section on directory entries (8 and 3
characters, upper case, the characters allowed, first byte E5h marks a free entry); ECMA-119 (ISO 9660), level 1:
A-Z 0-9 _ only. Device names are common practice of DOS and Windows. A kit carries real 8.3 names of its own:
aliases such as NAME~1.EXT differ between systems.
"""

from __future__ import annotations

import string
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from catalogue.families.short_names import DEVICES

BASE = 8
EXTENSION = 3
D_CHARACTERS = frozenset(string.ascii_uppercase + string.digits + "_")
"""What ECMA-119 level 1 allows; the names made here keep to it."""
FAT_CHARACTERS = D_CHARACTERS | frozenset("!#$%&'()-@^`{}~")
"""What a FAT short name may hold beside blanks and bytes above 7Fh (FAT specification)."""
FREE_ENTRY = "\xe5"
"""As first byte of a directory entry it says that the entry is free (FAT specification, DIR_Name[0])."""
_COMMAND_WORDS = """
    BREAK CALL CD CHCP CHDIR CLS COPY CTTY DATE DEL DIR ECHO ERASE EXIT FOR GOTO IF LFNFOR LH LOADHIGH LOADFIX LOCK
    MD MKDIR MORE PATH PAUSE PROMPT RD REM REN RENAME RMDIR SET SHIFT TIME TRUENAME TYPE UNLOCK VER VERIFY VOL
    ALIAS ATTRIB BCFG COMP CONNECT CP DBLK DEVICES DEVTREE DH DMEM DRIVERS DRVCFG DRVDIAG EDIT ELSE ENDFOR ENDIF
    GETMTC HELP HEXEDIT IFCONFIG LOAD LS MAP MEMMAP MM MODE MV OPENINFO PARSE PCI PING RESET RM SERMODE SETSIZE SETVAR
    STALL TOUCH UNLOAD
"""
COMMANDS = frozenset(_COMMAND_WORDS.split())
"""What a DOS command line and a UEFI shell answer themselves before they look for a file (common practice; the
second half from the UEFI Shell specification's list of commands, from memory)."""
PROGRAMS = ("COM", "EXE", "BAT", "EFI", "NSH")
"""Extensions that a bench runs."""
STARTERS = frozenset({"AUTOEXEC", "CONFIG", "STARTUP", "RUN", "COMMAND", "FDCONFIG", "FDAUTO", "IO", "MSDOS", "KERNEL"})
"""Bases that start by themselves, belong to a system, or are our script's: never given to a piece."""
MOST_TRIES = 1_296


@dataclass(frozen=True, slots=True)
class Wanted:
    """A file that needs a name: `key` tells it from the others, `had` is a name it had, `roles` in the route's order.

    `extension` is what the bench demands ("EXE"), else None and the name it had decides, else `otherwise`.
    """

    key: str
    had: str
    roles: tuple[str, ...]
    version: str | None = None
    extension: str | None = None
    otherwise: str = "BIN"


def is_legal(name: str) -> bool:
    """Whether FAT can hold `name` as a short name of its own: upper case, 8.3, no device, not E5h at the start."""
    base, dot, extension = name.partition(".")
    if not 1 <= len(base) <= BASE or len(extension) > EXTENSION or (dot and not extension):
        return False
    if name[0] == FREE_ENTRY or is_device(name):
        return False
    return set(base) | set(extension) <= FAT_CHARACTERS


def is_plain(name: str) -> bool:
    """Whether `name` is legal on FAT and keeps to the characters of ECMA-119 level 1 as well."""
    return is_legal(name) and set(name) <= D_CHARACTERS | {"."}


def is_device(name: str) -> bool:
    """Whether a DOS or Windows system takes `name` for a device."""
    return name.partition(".")[0].rstrip(" ").upper() in DEVICES


def folded(name: str) -> str:
    """`name` as FAT compares it: two names that fold alike are one file there."""
    return name.rstrip(". ").upper()


def assign(wanted: Iterable[Wanted], taken: Collection[str] = ()) -> dict[str, str]:
    """A legal, readable, distinct name for each of `wanted`, by its key; `taken` are names that stand already.

    The answer depends on the set of files alone, not on their order. A file keeps the name it had where that is
    plain, no device, command or starter, and nobody else wants it; else its role and version name it, with a number
    where that is taken too.
    """
    files = sorted(wanted, key=lambda one: (one.roles, one.key, one.had, one.version or "", one.extension or ""))
    used = {folded(name) for name in taken}
    kept = [_kept(one) for one in files]
    names: dict[str, str] = {}
    late = []
    for one, name in zip(files, kept, strict=True):
        if name is not None and kept.count(name) == 1 and _free(name, used):
            names[one.key] = name
            used.add(name)
        else:
            late.append(one)
    for one in late:
        name = next(name for name in _made(one) if _free(name, used))
        names[one.key] = name
        used.add(name)
    return names


def short_code(family: str, kit_id: str) -> str:
    """The kit's folder: up to 4 letters of the family, a dash, 3 characters of the kit id; such as BITT-7F3.

    The letters come from the last word of the family's id that has at least three (a maker's name stands first).
    """
    words = ["".join(c for c in word if c in string.ascii_uppercase) for word in _ascii(family).split("-")]
    words = [word for word in words if word]
    long = [word for word in words if len(word) >= 3]
    word = (long or words or ["KIT"])[-1]
    id_part = "".join(c for c in _ascii(kit_id) if c in string.ascii_uppercase + string.digits)
    return f"{word[:4]}-{id_part[:3].ljust(3, '0')}"


def _ascii(text: str) -> str:
    return unicodedata.normalize("NFKD", text).upper()


def _free(name: str, used: Collection[str]) -> bool:
    """Not taken, and no program of the same base beside it that a prompt would run in its stead."""
    base, _, extension = name.partition(".")
    if name in used:
        return False
    return extension not in PROGRAMS or not any(f"{base}.{other}" in used for other in PROGRAMS)


def _kept(one: Wanted) -> str | None:
    """The name the file had, in upper case, where it may stay."""
    had = one.had.upper() if one.had.isascii() else ""
    stem, dot, ending = had.rpartition(".")
    base = stem if dot else had
    extension = _extension(one, ending if dot else "")
    if not base or (dot and one.extension is None and ending != extension):
        return None
    name = _joined(base, extension)
    return name if is_plain(name) and not _reserved(base) else None


def _extension(one: Wanted, ending: str) -> str:
    if one.extension is not None:
        return one.extension
    usable = 1 <= len(ending) <= EXTENSION and ending[0] in string.ascii_uppercase and set(ending) <= D_CHARACTERS
    return ending if usable and ending not in (*PROGRAMS, "TMP", "SYS") else one.otherwise


def _joined(base: str, extension: str) -> str:
    return f"{base}.{extension}" if extension else base


def _reserved(base: str) -> bool:
    return base in DEVICES or base in COMMANDS or base in STARTERS


def _made(one: Wanted) -> Iterator[str]:
    """Names from role and version: FIRM1204.BIN, then FIRM_1.BIN and on; never ends before it must."""
    ending = one.had.upper().rpartition(".")[2] if one.had.isascii() and "." in one.had else ""
    extension = _extension(one, ending)
    word = _role_word(one.roles)
    digits = _version_digits(one.version)
    first = word[: BASE - len(digits)] + digits
    if not _reserved(first):
        yield _joined(first, extension)
    for number in range(1, MOST_TRIES):
        tail = f"_{number}"
        yield _joined(word[: BASE - len(tail)] + tail, extension)
    raise ValueError("too many files want one name")


def _role_word(roles: Sequence[str]) -> str:
    """The letters of the first role's first word, such as FIRMWARE or LEGACY; PIECE where there are none."""
    for word in _ascii(roles[0] if roles else "").split("-"):
        letters = "".join(c for c in word if c in D_CHARACTERS and c != "_")
        if letters:
            return letters
    return "PIECE"


def _version_digits(version: str | None) -> str:
    """Up to four digits of the version, group by group: 12.04.0 gives 1204, 9.0 gives 90."""
    digits = "".join(c for c in version or "" if c in string.digits)
    return digits[:4]
