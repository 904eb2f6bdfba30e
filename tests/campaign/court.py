"""Plant mutants as files, index them, and ask for the kit: one catalogue for many mutants, one after the other."""

from __future__ import annotations

import gzip
import io
import random
import shutil
import tarfile
import warnings
import zipfile
from hashlib import sha256
from pathlib import Path

from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Kit, Pin
from catalogue.tasks import index, kit, vouch
from catalogue.tasks.context import Context
from tests.campaign.classes import CLASSES
from tests.campaign.grounds import GROUNDS
from tests.campaign.mutant import EMPTY, SPARED, Outcome, Planted, Recipe
from tests.reference.demo_bench import TODAY


def plant(recipe: Recipe) -> Planted | None:
    """The mutant of a recipe; None where its class has no meaning in the role."""
    return CLASSES[recipe.fault].plant(GROUNDS[recipe.ground], recipe.role, random.Random(recipe.seed))


class Court:
    """A catalogue in `folder` with the sound pieces of one ground, all but those of one role."""

    def __init__(self, folder: Path, ground: str, role: str) -> None:
        self.ground, self.role = GROUNDS[ground], role
        self.folder = folder
        self.intake = folder / "in"
        self.context = Context(str(folder / "catalogue.db"), (), TODAY)
        away = self.ground.piece(role)
        for items in self.ground.roles.values():
            if items[0] is not away:
                for item in items:
                    path = self.intake / "sound" / item.name
                    path.parent.mkdir(parents=True, exist_ok=True)
                    path.write_bytes(item.data)
        index.run(self.context, [self.intake])

    def judge(self, recipe: Recipe, number: int) -> Outcome | None:
        """Plant, index, judge, take away again; None where the class has no meaning in the role."""
        planted = plant(recipe)
        if planted is None:
            return None
        at = self.intake / f"m{number}"
        _lay(planted, recipe.container, at)
        try:
            index.run(self.context, [self.intake])
            digest = sha256(planted.piece).hexdigest()
            if recipe.named:
                listed = self.folder / f"list{number}.sha256"
                named = sorted({sha256(data).hexdigest() for data in planted.files.values()})
                listed.write_text("".join(f"{one}  anything.bin\n" for one in named), encoding="ascii")
                vouch.record_list(self.context, listed, "the maker's page", "Ada")
            pins = [Pin(self.role, digest, "tried on purpose")] if recipe.pinned else []
            return _outcome(recipe, planted, digest, self._kit(pins), self.ground.shared(self.role))
        finally:
            shutil.rmtree(at)

    def _kit(self, pins: list[Pin]) -> Kit:
        return kit.run(self.context, self.ground.family, self.ground.route, pins=pins)

    def sound(self) -> Kit:
        """The kit with the sound piece back in its place."""
        at = self.intake / "whole"
        at.mkdir()
        for item in self.ground.roles[self.role]:
            (at / item.name).write_bytes(item.data)
        index.run(self.context, [self.intake])
        shown = self._kit([])
        shutil.rmtree(at)
        return shown


def _outcome(recipe: Recipe, planted: Planted, digest: str, shown: Kit, roles: tuple[str, ...]) -> Outcome:
    codes = {one.code for one in shown.findings if one.level is Level.STOP and one.role in (None, *roles)}
    codes |= {one.code for one in shown.findings if one.code in EMPTY and one.role == recipe.role}
    for choice in shown.roles:
        if choice.role in roles:
            codes |= {code for other in choice.others if other.piece == digest for code in other.why}
    chosen = {piece for choice in shown.roles if choice.role in roles for piece in choice.pieces}
    want = planted.want if planted.near or recipe.pinned else EMPTY
    taken = digest in chosen
    if planted.damage is not None:
        sound = {sha256(data).hexdigest() for data in planted.files.values()}
        taken = not chosen <= sound
        if shown.verdict == "ready" and chosen and not taken:
            codes.add(SPARED)
        want = (*want, SPARED)
    return Outcome(recipe, shown.verdict, taken, want, tuple(sorted(codes)), planted.note)


def _lay(planted: Planted, container: str, at: Path) -> None:
    at.mkdir()
    files = [*planted.files.items(), *planted.again]
    if container == "plain":
        for name, data in files:
            (at / name).write_bytes(data)
        return
    data, suffix = packed(files, container)
    if planted.damage is not None:
        data = planted.damage(data)
    (at / f"download{suffix}").write_bytes(data)


def packed(files: list[tuple[str, bytes]], container: str) -> tuple[bytes, str]:
    """The files as an archive, and the suffix of its name."""
    if container == "tar.gz":
        out = io.BytesIO()
        with tarfile.open(fileobj=out, mode="w") as tar:
            for name, data in files:
                info = tarfile.TarInfo(name)
                info.size = len(data)
                tar.addfile(info, io.BytesIO(data))
        return gzip.compress(out.getvalue(), 1, mtime=0), ".tar.gz"
    data = _zipped(files, zipfile.ZIP_DEFLATED if container == "deflated zip" else zipfile.ZIP_STORED)
    if container == "zip in zip":
        data = _zipped([("inner.zip", data)], zipfile.ZIP_STORED)
    return data, ".zip"


def _zipped(files: list[tuple[str, bytes]], method: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method, compresslevel=1) as archive:
        for name, data in files:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # one name twice is a fault that is planted here
                archive.writestr(zipfile.ZipInfo(name), data, compress_type=method)
    return out.getvalue()
