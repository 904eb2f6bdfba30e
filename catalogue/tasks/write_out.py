"""Write a ready kit to a folder or mounted volume, read it back, and keep its pieces for the day they are gone."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import BinaryIO

from catalogue.errors import BadCall, NotWorkable, Stopped
from catalogue.intake import fetch
from catalogue.media import write_out as media
from catalogue.media.target_rules import TARGET_RULES
from catalogue.shapes.finding import Evidence, Finding, Level
from catalogue.shapes.from_json import from_json_kit
from catalogue.shapes.host import NO_HOST, Host
from catalogue.shapes.kit import Kit, KitPiece, Pin
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import WriteOut
from catalogue.store import Store
from catalogue.tasks import hosts
from catalogue.tasks import kit as kit_task
from catalogue.tasks.context import Context

CHUNK = 1 << 20
MEDIUM_CODES = frozenset(rule.code for rule in TARGET_RULES)
"""What words on the medium are about; they are no part of the kit."""


def run(
    context: Context,
    family: str,
    target: Path,
    *,
    kit_id: str | None = None,
    route: str | None = None,
    pins: Sequence[Pin] = (),
    host: Host = NO_HOST,
    saved: Sequence[Path] = (),
    progress: Progress | None = None,
) -> WriteOut:
    """Judge, write, read back. Nothing is written where the kit is not ready or a rule of the medium stops.

    With `kit_id`, a kit judged before is judged again, with its pins, host file and saved texts; where that gives
    another id, bytes or judgement have moved, and `changed-since` says so. Raises BadCall, NotWorkable, Stopped.
    """
    told = progress or Quiet()
    if not target.is_dir():
        raise BadCall(f"There is no folder or mounted volume {target} to write to.")
    with Store.open(context.catalogue) as store:
        if kit_id is not None:
            if host.digest or saved:
                raise BadCall("A kit by its id has the host and the texts it was judged with; leave them out here.")
            route, pins, host, saved = _remembered(store, family, kit_id, route)
        kit, of, _route = kit_task.judged(
            context, store, family, route, pins=pins, host=host, saved=saved, progress=told
        )
        if kit_id is not None and kit.id != kit_id:
            return WriteOut(str(target), kit, findings=(_moved(kit, kit_id),))
        if kit.verdict != "ready":
            return WriteOut(str(target), kit)
        gone = _keep(store, kit.pieces, told)
        if gone is not None:
            return WriteOut(str(target), kit, findings=(gone,))
        spoken = tuple(word for word in store.words(of.id) if word.code in MEDIUM_CODES)
        done = media.write(kit, of, _opener(store), target, told, spoken, host.bench.cpu)
        if done.files:
            store.record_written(kit, os.fsencode(target.absolute()))
    return done


def _remembered(
    store: Store, family: str, kit_id: str, route: str | None
) -> tuple[str, tuple[Pin, ...], Host, tuple[Path, ...]]:
    body = store.kit_body(kit_id)
    if body is None:
        raise BadCall(f"No kit {kit_id} was judged in this catalogue. `kitproof kit {family}` judges one anew.")
    kit = from_json_kit(json.loads(body))
    if kit.family != family:
        raise BadCall(f"Kit {kit_id} is one of {kit.family}, not of {family}.")
    if route is not None and route != kit.route:
        raise BadCall(f"Kit {kit_id} goes by route {kit.route}, not by {route}.")
    host = hosts.load(kit.host.file) if kit.host is not None else NO_HOST
    return kit.route, kit.pins, host, tuple(Path(one.file) for one in kit.saved)


def _moved(kit: Kit, kit_id: str) -> Finding:
    return Finding(
        code="changed-since",
        level=Level.STOP,
        text="Judged again, this kit comes out as another one: a piece, a word, the family file or a rule has changed.",
        evidence=(Evidence(kit.family, "kit id", want=kit_id, have=kit.id),),
        remedy="Look at the kit as it is now, and write that one out if it is what you want.",
    )


def _keep(store: Store, pieces: Sequence[KitPiece], progress: Progress) -> Finding | None:
    """Keep every piece's bytes in the catalogue's own store; a finding where one is gone or no longer itself."""
    for number, piece in enumerate(pieces):
        progress.report(number, len(pieces), f"keeping {piece.name}")
        if store.kept_path(piece.sha256) is not None:
            continue
        failed: list[NotWorkable] = []
        try:
            store.keep(piece.sha256, _chunks(store, piece.sha256, failed))
        except NotWorkable as error:
            if not failed or isinstance(error, Stopped):
                raise
            return Finding(
                code="changed-since",
                level=Level.STOP,
                text=f"{piece.name} is no longer there as it was judged. {failed[0]}",
                evidence=(Evidence(piece.name, "SHA-256", want=piece.sha256, have="gone or changed"),),
                remedy="Index its folder again, then judge the kit again.",
                piece=piece.sha256,
            )
    return None


def _chunks(store: Store, sha256: str, failed: list[NotWorkable]) -> Iterator[bytes]:
    try:
        with fetch.open_piece(store, sha256) as stream:
            while chunk := stream.read(CHUNK):
                yield chunk
    except NotWorkable as error:
        failed.append(error)
        raise


def _opener(store: Store) -> Callable[[str], AbstractContextManager[BinaryIO]]:
    def opened(sha256: str) -> AbstractContextManager[BinaryIO]:
        path = store.kept_path(sha256)
        if path is None:
            raise NotWorkable(f"The kept bytes of {sha256[:12]} are gone from the catalogue's own store.")
        return path.open("rb")

    return opened
