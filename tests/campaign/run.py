"""Draw recipes, judge them in several processes, count what came of them."""

from __future__ import annotations

import itertools
import os
import random
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from math import inf
from multiprocessing import get_context
from pathlib import Path

from tests.campaign.classes import CLASSES
from tests.campaign.court import Court, plant
from tests.campaign.grounds import GROUNDS
from tests.campaign.mutant import Outcome, Recipe

BATCH = 40
"""Mutants judged in one catalogue before a fresh one is made."""


def cells() -> Iterator[Recipe]:
    """Every ground, role, class, container and way once."""
    for ground, at in GROUNDS.items():
        for role, fault in itertools.product(at.roles, CLASSES.values()):
            if plant(Recipe(ground, role, fault.name, "plain", False, False, 0)) is None:
                continue
            ways = itertools.product(
                fault.containers, (False, True)[: 1 + fault.named], (False, True)[: 1 + fault.pinned]
            )
            for container, named, pinned in ways:
                yield Recipe(ground, role, fault.name, container, named, pinned, 0)


def recipes(number: int, seed: int) -> list[Recipe]:
    """`number` recipes: every cell once before any cell twice, in an order drawn by `seed`; each with its own bytes."""
    draw = random.Random(seed)
    every = list(cells())
    draw.shuffle(every)
    again = [one for one in every if CLASSES[one.fault].varied]
    order = itertools.islice(itertools.chain(every, itertools.cycle(again)), number)
    return [
        Recipe(one.ground, one.role, one.fault, one.container, one.named, one.pinned, draw.getrandbits(48))
        for one in order
    ]


def batches(every: Iterable[Recipe], most: int = BATCH) -> list[list[Recipe]]:
    """Recipes that share ground and role, at most `most` together."""
    groups: dict[tuple[str, str], list[Recipe]] = {}
    for one in every:
        groups.setdefault((one.ground, one.role), []).append(one)
    return [group[at : at + most] for group in groups.values() for at in range(0, len(group), most)]


def judge_batch(batch: list[Recipe], until: float = inf) -> list[Outcome]:
    """Judge mutants of one ground and role in a catalogue of their own, in memory where there is such a folder."""
    shm = Path("/dev/shm")
    if time.time() >= until:
        return []
    folder = Path(tempfile.mkdtemp(prefix="kitproof-campaign-", dir=shm if os.access(shm, os.W_OK) else None))
    try:
        court = Court(folder, batch[0].ground, batch[0].role)
        judged = (court.judge(one, number) for number, one in enumerate(batch) if time.time() < until)
        return [one for one in judged if one is not None]
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def judged(every: Iterable[Recipe], jobs: int, seconds: float = 0) -> Iterator[Outcome]:
    """What comes of `every` recipe, as it comes; none is begun after `seconds` (0: all are judged)."""
    until = time.time() + seconds if seconds else inf
    work = batches(every)
    random.Random(0).shuffle(work)
    if jobs < 2:
        for batch in work:
            yield from judge_batch(batch, until)
        return
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        waiting = [pool.submit(judge_batch, batch, until) for batch in work]
        for one in as_completed(waiting):
            yield from one.result()


def table(outcomes: Iterable[Outcome]) -> str:
    """Counts by class: mutants, the named code raised, another stop only, no stop and not taken, came out ready."""
    counts: dict[str, Counter[str]] = {name: Counter() for name in CLASSES}
    for one in outcomes:
        what = "ready" if one.ready else "named" if one.hit else "other"
        counts[one.recipe.fault].update((what, "all"))
    counts["all classes"] = sum(counts.values(), Counter())
    lines = [f"{'class of fault':44}{'mutants':>9}{'named code':>12}{'other only':>12}{'ready':>7}"]
    for name, one in counts.items():
        if one["all"]:
            lines.append(f"{name:44}{one['all']:>9,}{one['named']:>12,}{one['other']:>12,}{one['ready']:>7,}")
    return "\n".join(lines)
