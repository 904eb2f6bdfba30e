"""Reading a medium again and comparing it with what it says of itself; needs nothing but the medium."""

from __future__ import annotations

import string
from pathlib import Path

from catalogue.errors import BadCall
from catalogue.media import disk, kit_folder, kits_list
from catalogue.media.disk import Entry, NotPlain
from catalogue.media.kit_folder import DIFFERS, MISSING, SAME, STRAY, Looked, Papers
from catalogue.media.medium import Differs, Folder, Medium, is_litter, starters
from catalogue.media.names83 import short_code
from catalogue.media.plan import CARDS, HALFWAY, KIT_JSON, KITS, RUN_SHEET, SUMS
from catalogue.media.target_rules import judge
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Kit, Word
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import FileState, ReadBack

MOST_KITS = 256
"""Kits' folders that are looked at on one medium."""


def read_back(target: Path, progress: Progress | None = None) -> ReadBack:
    """Compare the medium, or one kit's folder, at `target` with its own papers.

    Every file that SHA256.SUM covers is hashed, past the page cache where the system allows; KIT.JSN and SHA256.SUM
    must tell of the same pieces. `read_back` is "differs" with any stop.

    Raises BadCall where there is no such folder, NotWorkable where the medium fails, Stopped.
    """
    told = progress or Quiet()
    if not target.is_dir():
        raise BadCall(f"{target}: there is no such folder; name a mounted medium or a kit's folder.")
    with disk.world(target, "reading it back"):
        entries, more = disk.listing(target)
        if _is_kit_itself(target, entries):
            looked = _look([(target, "")], told)
            medium = Medium(str(target), tuple(one.folder for one in looked), starters=starters(target, entries))
            states = [state for one in looked for state in one.states]
        else:
            medium, states = _medium(target, entries, more, told)
    findings = judge(medium, words_of(medium))
    stopped = any(one.level is Level.STOP for one in findings)
    return ReadBack(str(target), tuple(states), findings, "differs" if stopped else "same")


def _is_kit_itself(target: Path, entries: tuple[Entry, ...]) -> bool:
    """Whether `target` is one kit's folder and not a medium with kits in it."""
    names = {one.name for one in entries if one.kind != "folder"}
    if names & {KIT_JSON, HALFWAY}:
        return True
    inside = any(_is_kit(target / one.name, False) for one in entries if one.kind == "folder")
    return SUMS in names and KITS not in names and not inside


def _medium(target: Path, entries: tuple[Entry, ...], more: bool, told: Progress) -> tuple[Medium, list[FileState]]:
    wanted, list_wrong, states = _list(target, entries)
    folders = [one for one in entries if one.kind == "folder" and _is_kit(target / one.name, one.name in wanted)]
    looked = _look([(target / one.name, one.name) for one in folders[:MOST_KITS]], told)
    found = [_named(one.folder) for one in looked]
    here = {one.name for one in folders}
    found += [
        Folder(code, None, differs=(Differs("", f"{KITS} names {code}, which is not here.", "a folder", "missing"),))
        for code in wanted
        if code not in here
    ]
    if list_wrong:
        found.append(Folder("", None, differs=(list_wrong,)))
    if not found:
        nothing = Differs("", f"There is no kit on {target}.", f"a folder with {SUMS}", "none")
        found.append(Folder("", None, differs=(nothing,)))
    root = tuple(one for one in entries if one.name not in here)
    states += [FileState(code, MISSING) for code in wanted if code not in here]
    states += [state for one in looked for state in one.states]
    others = [one for one in root if one.name not in (KITS, CARDS) and not is_litter(one)]
    states += [FileState(one.name, STRAY) for one in others]
    over = more or len(folders) > MOST_KITS
    return Medium(str(target), tuple(found), root, over, starters(target, root)), states


def _look(folders: list[tuple[Path, str]], told: Progress) -> list[Looked]:
    read: list[tuple[Path, str, Papers]] = [(path, shown, kit_folder.papers(path)) for path, shown in folders]
    total = sum(kit_folder.total(path, papers) for path, _, papers in read)
    done = 0

    def seen(count: int, name: str) -> None:
        nonlocal done
        done += count
        told.report(done, total, f"reading back {name}")

    told.report(0, total, "reading back")
    return [kit_folder.look(path, shown, papers, seen) for path, shown, papers in read]


def _list(target: Path, entries: tuple[Entry, ...]) -> tuple[tuple[str, ...], Differs | None, list[FileState]]:
    """The folders that KITS.TXT names, what is wrong with it, and its own state; a medium may well have none."""
    if all(one.name != KITS for one in entries):
        return (), None, []
    try:
        data = disk.small(target / KITS, kits_list.MAX_BYTES)
        if data is None:
            raise kits_list.NotOurs("it is too long")
        return kits_list.codes(data), None, [FileState(KITS, SAME)]
    except (NotPlain, kits_list.NotOurs) as error:
        wrong = Differs(KITS, f"{KITS} is not the list that this program writes: {error}.", "our list", str(error))
    except kits_list.Damaged as error:
        wrong = Differs(KITS, f"{KITS} holds other bytes than were written: {error}.", "our list", str(error))
    return (), wrong, [FileState(KITS, DIFFERS)]


def _is_kit(path: Path, listed: bool) -> bool:
    """Whether a folder in the root is a kit's, whole or not: by its papers, by our list, by its name and run sheet."""
    if listed or any((path / name).is_file() for name in (KIT_JSON, HALFWAY)):
        return True
    return looks_like_code(path.name) and any((path / name).is_file() for name in (SUMS, RUN_SHEET))


def looks_like_code(name: str) -> bool:
    """Whether `name` has the form of a kit's short code: one to four letters, a dash, three letters or digits."""
    word, dash, rest = name.partition("-")
    letters = set(string.ascii_uppercase)
    return bool(dash) and 1 <= len(word) <= 4 and set(word) <= letters and len(rest) == 3 and (
        set(rest) <= letters | set(string.digits)
    )  # fmt: skip


def _named(folder: Folder) -> Folder:
    """The folder's facts, and one more where it does not bear the name of the kit in it."""
    if folder.kit is None or short_code(folder.kit.family, folder.kit.id) == folder.path:
        return folder
    code = short_code(folder.kit.family, folder.kit.id)
    wrong = Differs("", f"The folder {folder.path} holds the kit {code}.", code, folder.path)
    return Folder(folder.path, folder.kit, folder.listed, folder.entries, (*folder.differs, wrong), more=folder.more)


def words_of(medium: Medium) -> tuple[Word, ...]:
    """The words given with the kits on the medium."""
    kits: list[Kit] = [one.kit for one in medium.folders if one.kit is not None]
    return tuple(word for kit in kits for word in kit.words)
