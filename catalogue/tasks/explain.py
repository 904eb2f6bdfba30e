"""A kit with answers about it: why pieces were not chosen for a role, and what would make the kit ready."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families.model import Route
from catalogue.kits import explaining, mending
from catalogue.shapes.host import NO_HOST, Host
from catalogue.shapes.kit import Pin, Word
from catalogue.shapes.mending import Explained
from catalogue.shapes.progress import Progress, Quiet
from catalogue.store import Store
from catalogue.tasks import kit, known
from catalogue.tasks.context import Context
from catalogue.tasks.hashes import whole_hash

MOST_SECONDS = 20.0
"""One search for changes; what is not tried by then is told as not tried."""
Wish = tuple[str, str]
"""A role, and the SHA-256 (or its unique beginning) of any indexed piece."""


def run(
    context: Context,
    family: str,
    route: str | None = None,
    *,
    pins: Sequence[Pin] = (),
    words: Sequence[Word] = (),
    host: Host = NO_HOST,
    saved: Sequence[Path] = (),
    why: Sequence[Wish] | None = None,
    mend: bool = False,
    seconds: float = MOST_SECONDS,
    progress: Progress | None = None,
) -> Explained:
    """The kit as `tasks.kit.run` gives it, with `why` each wish was not chosen and what would `mend` it.

    Raises BadCall as that does, and for a role the route has not.
    """
    told = progress or Quiet()
    with Store.open(context.catalogue) as store:
        of = known.named(context, store, family)
        by = known.route(of, route)
        wishes = [(_role(by, role), whole_hash(store, begins)) for role, begins in why or ()]
        also = [sha256 for _role, sha256 in wishes]
        asked = kit.ask(context, store, family, route, pins=pins, said=words, host=host, saved=saved, progress=told,
                        also=also)  # fmt: skip
        answer = kit.answer(context, store, asked)
    answers = explaining.explain(asked.question, wishes) if why is not None else None
    found = mending.mend(asked.question, _within(seconds, told)) if mend else None
    return Explained(answer, answers, found)


def _role(route: Route, role: str) -> str:
    roles = (*route.needs, *route.may)
    if role not in roles:
        raise BadCall(f"Route {route.id} has no role {role}; it has {', '.join(roles)}.")
    return role


def _within(seconds: float, progress: Progress) -> Callable[[], bool]:
    """Whether there is time left, told each time."""
    end = time.monotonic() + seconds
    tried = 0

    def go_on() -> bool:
        nonlocal tried
        tried += 1
        progress.report(tried, None, "trying what would make it ready")
        return time.monotonic() < end

    return go_on
