"""The demo: make the sample bundles, index them, prove a kit, refuse tempting wrong ones, write out, read back.

Nothing in it is told beforehand: what came out is compared with what `sample_bundles` says that it made.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.shapes.changes import Changes
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Kit, Pin
from catalogue.shapes.piece import INTO
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import DemoRefusal, DemoSummary, IndexSummary, ReadBack, WriteOut
from catalogue.tasks import demo_story, index, kit, read_back, write_out
from catalogue.tasks.context import Context
from sample_bundles.make import Made, MadePiece, make

FAMILY = "corvane-bittern"
ROUTE = "raid-to-pass-dos"
FOLDER = "kitproof-demo"
TEMPTATIONS = (("legacy-boot-rom", "other-mode"), ("eeprom-image", "blank"), ("eeprom-image", "wrong-size"))
"""Role, and the code that must stop the wrong piece which the demo pins for it."""


@dataclass(frozen=True, slots=True)
class Ran:
    """All that the demo's steps answered with."""

    folder: Path
    made: Made
    indexed: IndexSummary
    good: Kit
    refused: tuple[DemoRefusal, ...]
    written: WriteOut | None
    again: ReadBack | None


def run(context: Context, folder: Path | None, progress: Progress | None = None) -> DemoSummary:
    """Play the demo under `folder`, or under `kitproof-demo` in the current folder, with the catalogue in use.

    Bundles come under `downloads`, the kit under `medium`. A file that the demo did not make is never overwritten:
    BadCall names it, and then nothing has been written. Raises NotWorkable where the disk does not allow it.
    """
    told = progress or Quiet()
    base = folder if folder is not None else Path.cwd() / FOLDER
    made = _make(base)
    indexed = index.run(context, [made.folder], told)
    good = kit.run(context, FAMILY, ROUTE, progress=told)
    refused = tuple(_tempt(context, made, role, code, told) for role, code in TEMPTATIONS)
    written, again = None, None
    if good.verdict == "ready":
        medium = base / "medium"
        medium.mkdir(exist_ok=True)
        written = write_out.run(context, FAMILY, medium, kit_id=good.id, route=ROUTE, progress=told)
        again = read_back.run(medium, told)
    ran = Ran(base, made, indexed, good, refused, written, again)
    problems = wrong(ran)
    following = demo_story.try_next(context, ran)
    return DemoSummary(
        folder=str(base),
        downloads=str(made.folder),
        medium=str(base / "medium"),
        made=made.written,
        kept=made.kept,
        index=indexed,
        kit=good,
        refused=refused,
        write_out=written,
        read_back=again,
        problems=problems,
        try_next=following,
        lines=demo_story.lines(ran, problems, following),
        as_intended=not problems,
        changes=Changes(pieces=True, media=written is not None),
    )


def _make(base: Path) -> Made:
    downloads = base / "downloads"
    try:
        for one in (base, downloads, base / "medium"):
            if one.exists() and not one.is_dir():
                raise BadCall(f"{one} is not a folder; name another place for the demo.")
        return make(downloads)
    except FileExistsError as error:
        raise BadCall(f"The demo overwrites nothing: {error}. Name another folder for it.") from None
    except OSError as error:
        raise NotWorkable(f"The demo's files cannot be written under {base}: {error.strerror or error}.") from error


def place_of(made: Made, piece: MadePiece) -> str:
    """Where a made piece lies, below the downloads."""
    return INTO.join((str(piece.path.relative_to(made.folder)), *piece.inside))


def _tempt(context: Context, made: Made, role: str, code: str, progress: Progress) -> DemoRefusal:
    """Pin the wrong piece and hear what the judge says."""
    piece = made.find(FAMILY, role, good=False, tempts=code)
    pin = Pin(role, piece.sha256, "the demo tries what must not go through")
    judged = kit.run(context, FAMILY, ROUTE, pins=(pin,), progress=progress)
    stops = [
        one
        for one in judged.findings
        if one.level is Level.STOP and one.role == role and one.piece == piece.sha256
    ]
    return DemoRefusal(
        role=role,
        piece=piece.sha256,
        place=place_of(made, piece),
        what=piece.what,
        wanted=code,
        codes=tuple(dict.fromkeys(one.code for one in stops)),
        text=next((one.text for one in stops if one.code == code), ""),
        verdict=judged.verdict,
    )


def wrong(ran: Ran) -> tuple[str, ...]:
    """What did not come out as `sample_bundles` and the family mean it to; empty if all did."""
    problems = []
    if ran.indexed.files < len({one.path for one in ran.made.pieces}):
        problems.append(f"Only {ran.indexed.files} files were indexed; more were made.")
    if ran.indexed.named_unreadable:
        problems.append("The downloads folder could not be read.")
    stops = [one for one in ran.good.findings if one.level is Level.STOP]
    problems += [f"{one.role or 'the kit'}: {one.code}: {one.text}" for one in stops]
    if ran.good.verdict != "ready" and not stops:
        problems.append("The good kit is not ready, and nothing says why.")
    meant = {one.sha256 for one in ran.made.pieces if one.family == FAMILY and one.good}
    for choice in ran.good.roles:
        if choice.needed and not choice.pieces:
            problems.append(f"{choice.role}: nothing was chosen.")
        problems += [f"{choice.role}: another piece was chosen: {one}" for one in choice.pieces if one not in meant]
    for refusal in ran.refused:
        if refusal.verdict == "ready" or refusal.wanted not in refusal.codes:
            problems.append(f"{refusal.place} was not refused as {refusal.wanted} for {refusal.role}.")
    return (*problems, *_wrong_on_medium(ran))


def _wrong_on_medium(ran: Ran) -> list[str]:
    if ran.written is None:
        return ["Nothing was written out."]
    problems = []
    laid = {one.sha256 for one in ran.written.files}
    problems += [f"{one.name} was not written out." for one in ran.good.pieces if one.sha256 not in laid]
    if ran.written.kit.id != ran.good.id:
        problems.append("Another kit was written out than the one proved.")
    if ran.written.read_back != "same":
        problems.append("The medium differs from what was written.")
    if ran.again is None or ran.again.read_back != "same":
        problems.append("The medium, read once more, differs from its list.")
    return problems
