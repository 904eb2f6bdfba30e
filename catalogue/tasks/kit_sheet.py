"""The steps of a ready kit, with the very names its files will have on a medium."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from catalogue.errors import BadCall
from catalogue.media import plan, run_sheet
from catalogue.shapes.host import NO_HOST, Host
from catalogue.shapes.kit import Pin
from catalogue.shapes.progress import Progress, Quiet
from catalogue.store import Store
from catalogue.tasks import kit as kit_task
from catalogue.tasks.context import Context


def run(
    context: Context,
    family: str,
    route: str | None = None,
    *,
    pins: Sequence[Pin] = (),
    host: Host = NO_HOST,
    saved: Sequence[Path] = (),
    progress: Progress | None = None,
) -> str:
    """The run sheet as text. Raises BadCall where the kit is not ready: steps for a wrong kit help nobody."""
    with Store.open(context.catalogue) as store:
        kit, of, by = kit_task.judged(
            context, store, family, route, pins=pins, host=host, saved=saved, progress=progress or Quiet()
        )
    if kit.verdict != "ready":
        raise BadCall(f"The kit of {family} by {by.id} is not ready; `kitproof kit {family} --route {by.id}` says why.")
    return run_sheet.text(kit, of, plan.plan(kit, of))
