"""The demo told to a person, in short words."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from catalogue.shapes.kit import Kit, RoleChoice

if TYPE_CHECKING:
    from catalogue.tasks.context import Context
    from catalogue.tasks.demo import Ran


def lines(ran: Ran, problems: tuple[str, ...], following: tuple[str, ...]) -> tuple[str, ...]:
    """The whole story: what was made, proved, refused, written; what went wrong; what to try next."""
    return (
        *_folder(ran),
        "",
        *_kit(ran.good),
        "",
        *_refusals(ran),
        "",
        *_medium(ran),
        "",
        *([f"Not as intended: {one}" for one in problems] or ["All came out as intended."]),
        "",
        "Try next:",
        *(f"  {one}" for one in following),
        "",
        "The cards, makers and IDs are invented. With a real card, the card maker's instructions come first.",
    )


def _folder(ran: Ran) -> list[str]:
    indexed = ran.indexed
    made = len({one.path for one in ran.made.pieces})
    told = [
        f"A bench's downloads, {made} files, lie in {ran.made.folder}",
        f"Indexed: {indexed.files} files, {indexed.pieces} pieces, {indexed.archives} archives.",
    ]
    return told + [f"  not readable: {_below(ran, one.place)}: {one.why}" for one in indexed.unreadable]


def _below(ran: Ran, place: str) -> str:
    return place.removeprefix(str(ran.made.folder)).lstrip("/\\")


def _kit(good: Kit) -> list[str]:
    names = {one.sha256: one.name for one in good.pieces}
    verdict = "ready" if good.verdict == "ready" else "NOT READY"
    told = [f"A kit for {good.family_title}, route {good.route}: {verdict}."]
    width = max((len(one.role) for one in good.roles), default=0)
    return told + [f"  {choice.role:{width}}  {_choice(choice, names)}" for choice in good.roles]


def _choice(choice: RoleChoice, names: dict[str, str]) -> str:
    if not choice.pieces:
        whys = sorted({code for other in choice.others for code in other.why})
        return f"left out ({', '.join(whys)})" if whys else "left out"
    shown = " + ".join(Path(names.get(one, one[:12])).name for one in choice.pieces)
    version = f" {choice.version}" if choice.version else ""
    return f"{shown}{version}: fits: {choice.fit}; vouched: {choice.vouch}; {choice.age}"


def _refusals(ran: Ran) -> list[str]:
    told = ["Tempting, and tried on purpose:"]
    for one in ran.refused:
        verdict = "refused" if one.verdict != "ready" else "TAKEN"
        told.append(f"  {one.place}, for {one.role}: {verdict}.")
        told.append(f"    {one.wanted}: {one.text}" if one.text else f"    {', '.join(one.codes) or 'no stop'}")
    return told


def _medium(ran: Ran) -> list[str]:
    if ran.written is None:
        return ["Nothing was written out."]
    again = ran.again.read_back if ran.again is not None else "unread"
    return [
        f"Written to {Path(ran.written.target) / ran.written.folder}: {len(ran.written.files)} files.",
        f"Read back from there: {again}.",
        *(f"  {one.name:12}  {one.role or 'the kit itself'}" for one in ran.written.files),
    ]


def try_next(context: Context, ran: Ran) -> tuple[str, ...]:
    """Calls that lead on from here, ready to be typed."""
    call = program()
    if context.catalogue is not None:
        call += f" --catalogue {shlex.quote(str(context.catalogue))}"
    medium = shlex.quote(str(ran.folder / "medium"))
    told = [f"{call} kit {ran.good.family}"]
    for choice in ran.good.roles:
        waiting = [one.piece[:12] for one in choice.others if set(one.why) == {"unvouched"}]
        if choice.left_out and len(waiting) == 1:
            word = f"--word unvouched={waiting[0]} --reason 'why you trust it' --by 'your name'"
            told.append(f"{call} kit {ran.good.family} {word}")
            break
    return (
        *told,
        f"{call} kit brinewell-plover",
        f"{call} write-out corvane-heron {medium}",
        f"{call} read-back {medium}",
        f"{call}    (the same in a window)",
    )


def program() -> str:
    """How this very program is called from a shell: by its name where that leads here, else by its whole path."""
    here = Path(sys.executable).with_name("kitproof.exe" if os.name == "nt" else "kitproof")
    named = shutil.which("kitproof")
    if not here.is_file() or (named is not None and Path(named).resolve() == here.resolve()):
        return "kitproof"
    return shlex.quote(str(here))
