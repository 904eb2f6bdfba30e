"""The rules of the medium: what must hold of a target before and after a kit is written to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from catalogue.kits.rule import Hit, Rule, Weight, run
from catalogue.media import names83
from catalogue.media.kit_folder import strays
from catalogue.media.lines import DOS_LINE, DOS_TAIL, tail
from catalogue.media.medium import (
    DOS_BOOT_FILES,
    UEFI_BOOT_FILES,
    Folder,
    Listed,
    Medium,
    Space,
    Starter,
    is_litter,
)
from catalogue.media.plan import CARDS, KITS, Clash
from catalogue.shapes.finding import ClearedBy, Evidence, Finding, Level
from catalogue.shapes.kit import Word

MOST_SHOWN = 20
"""Names or lines that one finding shows as evidence."""
FAT32_FILE = (1 << 32) - 1
"""Bytes of the largest file on FAT32 (Microsoft FAT specification, DIR_FileSize)."""
SHADOWING = {"EXE": ("COM",), "BAT": ("COM", "EXE")}
"""What a DOS prompt runs in the stead of a program with that extension (common practice)."""


def name_clash(medium: Medium) -> Iterator[Hit]:
    """Two things would be one file on the medium, or a name is one that the bench cannot hold.

    FAT knows no upper and lower case, 8.3 names only for DOS, takes CON, AUX, COM1 and their like for devices with any
    extension, and a first byte of E5h for a free entry. What somebody else put there is never written over.

    Fine: FW.BIN and FW.ROM; our own folder of the same kit, whole or half-written. Refused: a companion that must be
    called aux.dll; two companions of one name with other bytes; a file BITT-7F3 that is not ours.
    Looks at: the names on the medium and those to be written.
    """
    for clash in medium.clashes:
        hit = _clashing(clash, clash.name)
        yield replace(hit, remedy=_FOREIGN) if clash.name == KITS else hit
    for folder in medium.folders:
        for clash in folder.foreign:
            yield replace(_clashing(clash, folder.shown(clash.name)), remedy=_FOREIGN)
        for first, second in _one_name(folder):
            yield Hit(
                f"{folder.shown(second)} and {first} are one name on a FAT volume.",
                (Evidence(folder.shown(second), "name", want=first, have=second),),
            )


def _clashing(clash: Clash, place: str) -> Hit:
    evidence = (Evidence(place, "name", have=clash.why),)
    return Hit(f"{place}: {clash.why}.", evidence, role=clash.role or None, piece=clash.sha256 or None)


_FOREIGN = "Nothing was written over. Move that file away yourself if it is not needed, or use another medium."


def _one_name(folder: Folder) -> Iterator[tuple[str, str]]:
    listed = {names83.folded(one.name): one.name for one in folder.listed}
    for entry in folder.entries:
        name = listed.get(names83.folded(entry.name))
        if name is not None and name != entry.name and any(one.name == name for one in folder.entries):
            yield name, entry.name


def too_small(medium: Medium) -> Iterator[Hit]:
    """The medium has no room: clusters, entries of a root folder of fixed size, or FAT32's largest file.

    Every file takes whole clusters; the kit's folder and the papers take theirs. A FAT12 or FAT16 root holds 112, 224
    or 512 entries as a rule. A file on FAT is at most 2^32 - 1 bytes.

    Fine: exactly as much room as is needed; the same kit written again over itself. Refused: one cluster short.
    Looks at: the volume's clusters, its root folder, the sizes.
    """
    space = medium.space
    if space is None:
        return
    for name, size in medium.needs.sizes.items():
        if size > FAT32_FILE and (space.fat or medium.bench in ("dos", "uefi")):
            yield Hit(
                f"{name} has {size} bytes; a file on a FAT volume has at most {FAT32_FILE}.",
                (Evidence(name, "size", want=f"at most {FAT32_FILE}", have=str(size)),),
            )
    need = needed(medium, space)
    if space.free is not None and need > space.free:
        yield Hit(
            f"The kit needs {need} bytes on {medium.target} in clusters of {space.cluster}; {space.free} are free.",
            (Evidence(medium.target, "free", want=str(need), have=str(space.free)),),
        )
    more = medium.needs.root_entries
    if space.root_left is not None and more > space.root_left:
        yield Hit(
            f"The root folder of {medium.target} has room for {space.root_left} more entries; {more} are needed.",
            (Evidence(medium.target, "root entries", want=str(more), have=str(space.root_left)),),
        )
    files = len(medium.needs.sizes) + 1
    if medium.needs.sizes and space.files_left is not None and files > space.files_left:
        yield Hit(
            f"{medium.target} can hold {space.files_left} more files; {files} are needed.",
            (Evidence(medium.target, "files", want=str(files), have=str(space.files_left)),),
        )


def needed(medium: Medium, space: Space) -> int:
    """Bytes that writing takes in whole clusters, with one cluster or more for the folder itself."""
    sizes = medium.needs.sizes
    if not sizes:
        return 0
    entries = sum(names_entries * 32 for names_entries in (2, *(1 + -(-len(name) // 13) for name in sizes)))
    return sum(-(-size // space.cluster) * space.cluster for size in (*sizes.values(), entries))


def line_too_long(medium: Medium) -> Iterator[Hit]:
    """A line of the route, with these names and the longest values a card can give, does not fit a DOS prompt.

    A prompt or batch line holds 127 characters; a program is handed at most 126 behind its name (the PSP's command
    tail at 80h). A longer line is cut without a word, and the last file of it is not written.

    Fine: 127 characters. Refused: 128. Not looked at: routes for other benches.
    Looks at: the filled lines of the route.
    """
    if medium.bench != "dos":
        return
    for step, line in medium.lines:
        handed = tail(line)
        if len(line) > DOS_LINE or len(handed) > DOS_TAIL:
            yield Hit(
                f'The line of step "{step}" can come to {len(line)} characters; a DOS prompt takes {DOS_LINE}.',
                (Evidence(f"step {step}", "type", length=len(line), want=f"at most {DOS_LINE}", have=line),),
            )


def changed_since(medium: Medium) -> Iterator[Hit]:
    """Bytes, family file or kit are no longer those that were judged.

    Every piece is hashed again while it is copied; what differs by one bit is not the piece that was proved.

    Fine: a piece moved to another folder. Refused: a file edited between judging and writing; a kit id that this
    family, these pieces and these words no longer give.
    Looks at: each digest, the kit's id.
    """
    for one in medium.changed:
        yield Hit(
            f"{one.name} is not what was judged.",
            (Evidence(one.name, "sha256", want=one.want, have=one.have),),
            role=one.role or None,
            piece=one.sha256 or None,
        )


def read_back_differs(medium: Medium) -> Iterator[Hit]:
    """The medium does not hold what its own papers say.

    SHA256.SUM is written last: a folder without it is no kit. KIT.JSN and SHA256.SUM must name the same pieces.

    Fine: every file the same. Refused: one byte changed, a file gone or renamed, KIT.JSN not readable, half a kit.
    Looks at: each digest, read again from the medium.
    """
    for folder in medium.folders:
        for one in folder.differs:
            place = folder.shown(one.name) if one.name else folder.path or medium.target
            listed = next((item for item in folder.listed if item.name == one.name), None)
            yield Hit(
                one.text,
                (Evidence(place, "sha256" if len(one.want) == 64 else "", want=one.want, have=one.have),),
                role=listed.roles[0] if listed and listed.roles else None,
                piece=listed.sha256 if listed and listed.roles else None,
            )


def shadowed(medium: Medium) -> Iterator[Hit]:
    """A DOS prompt would run another file than the one we type: X.COM before X.EXE before X.BAT.

    Fine: HAND.EXE beside HAND.TXT. Refused: HAND.COM beside our HAND.EXE, RUN.EXE beside our RUN.BAT.
    Looks at: the listing of the kit's folder.
    """
    for folder in medium.folders:
        beside = {names83.folded(entry.name): entry.name for entry in folder.entries if entry.kind != "folder"}
        for one in folder.listed:
            if one.kind not in ("dos-program", "script"):
                continue
            base, _, extension = one.name.upper().rpartition(".")
            for other in SHADOWING.get(extension, ()):
                name = beside.get(f"{base}.{other}")
                if name is not None:
                    yield Hit(
                        f"{folder.shown(name)} would run in the stead of {one.name}.",
                        (Evidence(folder.shown(name), "name", want=one.name, have=name),),
                        role=one.roles[0] if one.roles else None,
                        piece=one.sha256,
                    )


def starts_itself(medium: Medium) -> Iterator[Hit]:
    """Something on the medium starts by itself and is not ours: AUTOEXEC.BAT, CONFIG.SYS, startup.nsh.

    Our scripts are started by hand. A file of somebody else that runs a program of a kit could erase the next card
    that sees the medium, so a person must look at it.

    Fine: a medium without one. Caution: an AUTOEXEC.BAT that sets the keyboard. Refused until a person gives their
    word: a startup.nsh with a line that runs the kit's utility.
    Looks at: the lines of the file that starts.
    """
    for starter in medium.starters:
        runs = list(_runs(medium, starter))
        if not runs:
            lines = [line for line in starter.lines if line][:MOST_SHOWN]
            yield Hit(
                f"{starter.name} on {medium.target} starts by itself and is not ours.",
                (Evidence(starter.name, "lines", have=" / ".join(lines)[:2_000]),),
                Weight.CAUTION,
            )
        for listed, number, line in runs[:MOST_SHOWN]:
            yield Hit(
                f"{starter.name} starts by itself and its line {number} runs {listed.name} of the kit.",
                (Evidence(starter.name, f"line {number}", have=line[:2_000]),),
                role=listed.roles[0] if listed.roles else None,
                piece=listed.sha256,
            )


def _runs(medium: Medium, starter: Starter) -> Iterator[tuple[Listed, int, str]]:
    """The first line for each piece that the starting file names, as a whole word, with or without its extension."""
    for folder in medium.folders:
        for listed in folder.listed:
            if not listed.roles:
                continue
            name = listed.name.upper()
            program = listed.kind in ("dos-program", "efi-application", "linux-program", "windows-program")
            forms = {name, name.rpartition(".")[0] or name} if program else {name}
            for number, line in enumerate(starter.lines, 1):
                if forms & _words(line):
                    yield listed, number, line
                    break


def _words(line: str) -> set[str]:
    upper = line.upper()
    for sign in "\\/:=\"'|<>,;()@%&":
        upper = upper.replace(sign, " ")
    return set(upper.split())


def stray(medium: Medium) -> Iterator[Hit]:
    """Other files lie on the medium, beside the kits or among a kit's files.

    Fine: what a system leaves by itself (its recycle bin, its index), KITS.TXT, the folder CARDS. Caution: anything
    else, for it may be taken for a piece.
    Looks at: the listing of the medium.
    """
    found = [one.name for one in medium.root if not (is_litter(one) or one.name.upper() in (KITS, CARDS))]
    if found:
        yield Hit(
            f"{len(found)} other file{'s lie' if len(found) > 1 else ' lies'} beside the kits.",
            tuple(Evidence(name, "name", have=name) for name in found[:MOST_SHOWN]),
        )
    if medium.more:
        yield Hit(
            f"{medium.target} holds so many entries that not all were looked at.", (Evidence(medium.target, "entries"),)
        )
    for folder in medium.folders:
        others = strays(folder)
        if others:
            yield Hit(
                f"{len(others)} file{'s' if len(others) > 1 else ''} in {folder.path or medium.target} "
                "the kit does not know.",
                tuple(Evidence(folder.shown(name), "name", have=name) for name in others[:MOST_SHOWN]),
            )
        if folder.more:
            yield Hit(
                f"{folder.path or medium.target} holds so many entries that not all were looked at.",
                (Evidence(folder.path or medium.target, "entries"),),
            )


def not_bootable(medium: Medium) -> Iterator[Hit]:
    """A UEFI or DOS bench would find nothing on the medium to start, or nothing for its processor.

    Firmware starts EFI/BOOT/BOOTX64.EFI and its like from a removable medium, one name for each processor; a DOS boot
    sector loads a system file from the root folder. A medium beside the one that is started from needs neither.

    Fine: a boot file for the bench's processor, or for any where that is not told; a folder that is no volume; routes
    for Linux and for an external programmer. Caution: a UEFI bench of x86-64 and BOOTAA64.EFI alone.
    Looks at: the listing of the medium, the host file's cpu of the bench.
    """
    if medium.boot is None or medium.bench not in ("dos", "uefi"):
        return
    files, cpu = medium.boot.files, medium.boot.cpu
    if medium.bench == "dos":
        if not any(name in DOS_BOOT_FILES for name in files):
            want = " or ".join(DOS_BOOT_FILES)
            place = Evidence(medium.target, "boot file", want=want, have=", ".join(files) or "none")
            yield Hit(f"No system file of a DOS lies in the root folder of {medium.target}.", (place,))
        return
    wanted = [f"EFI/BOOT/{name}" for name, machine in UEFI_BOOT_FILES.items() if cpu in (None, machine)]
    if not any(name in files for name in wanted):
        place = Evidence(medium.target, "boot file", want=" or ".join(wanted), have=", ".join(files) or "none")
        what = "for the bench's processor " if cpu is not None else ""
        yield Hit(f"No boot file {what}lies on {medium.target}.", (place,))


TARGET_RULES: tuple[Rule[Medium], ...] = (
    Rule("name-clash", Weight.STOP, name_clash, "Two names become one",
         "Use another medium, or a family file whose companions have names FAT and the bench can hold.", "ECMA-107"),
    Rule("too-small", Weight.STOP, too_small, "The medium is too small",
         "Free some room on the medium or take a larger one.", "FAT"),
    Rule("line-too-long", Weight.STOP, line_too_long, "A line to type is too long",
         "Shorten the step's line in the family file, or split the step.", "PSP"),
    Rule("changed-since", Weight.STOP, changed_since, "Changed since it was judged",
         "Index again, prove the kit again and look at its findings; then write that kit.", "T MFST.TOCTOU"),
    Rule("read-back-differs", Weight.STOP, read_back_differs, "The medium differs from its papers",
         "Do not use this medium. Write the kit again; if it differs again, throw the medium away.",
         "R SEC.AUTH.EXEC"),
    Rule("shadowed", Weight.STOP, shadowed, "Another program would run",
         "Take the other file off the medium, or use another medium.", "CP"),
    Rule("starts-itself", Weight.CLEARABLE, starts_itself, "Something starts by itself",
         "Look at that file's lines; take it off the medium, or start the bench machine from elsewhere.", "UEFI Shell"),
    Rule("stray", Weight.CAUTION, stray, "Other files on the medium",
         "Look whether anything there could be taken for a piece of a kit; a medium of its own is best.", "in-toto"),
    Rule("not-bootable", Weight.CAUTION, not_bootable, "Nothing to start from",
         "Start the bench machine from another medium, or write the kit to one that starts it.", "UEFI"),
)  # fmt: skip
"""One row a rule, in the order in which findings are told."""


def judge(medium: Medium, words: tuple[Word, ...] = ()) -> tuple[Finding, ...]:
    """Every rule's findings on `medium`, a person's words applied to those that a word may clear."""
    found = [one for rule in TARGET_RULES for one in run(rule, medium, None, None)]
    return tuple(_worded(one, words) for one in found)


def _worded(finding: Finding, words: tuple[Word, ...]) -> Finding:
    if not finding.clearable or finding.piece is None:
        return finding
    for word in words:
        if word.code == finding.code and word.sha256 == finding.piece:
            return replace(finding, level=Level.CAUTION, cleared_by=ClearedBy(word.by, word.reason))
    return finding
