"""Two hundred families and a full catalogue: `find-family`, and the Shelf's rows with the families each piece fits."""

from __future__ import annotations

import re
import statistics
import time
from pathlib import Path

from catalogue.families import load, source, spoken_of
from catalogue.tasks import find_family, shelf
from catalogue.tasks.context import Context
from tests.bench.measure import Line, Measure
from tests.bench.search import lay

NAME = "200 families"
FAMILIES = 200
REACH = 0.05
ROWS = 60
"""What a tall window shows at once."""
ROUNDS = 5
SHIPPED = Path(__file__).parents[2] / "resources" / "families"


def families(folder: Path) -> None:
    """So many files made from the demo's, each with an id and devices of its own."""
    folder.mkdir()
    texts = [file.read_text(encoding="utf-8") for file in sorted(SHIPPED.glob("*.toml"))]
    for number in range(FAMILIES):
        text = re.sub(r'^id = "([^"]+)"', rf'id = "\1-{number}"', texts[number % len(texts)], count=1, flags=re.M)
        first = 0x1000 + 16 * number
        text = re.sub(r'"F234:0C8([0-9A-F])', lambda found: f'"F234:{first + int(found[1], 16):04X}', text)  # noqa: B023
        (folder / f"{number}.toml").write_text(text, encoding="utf-8")


def forget() -> None:
    """As a command that has just started: nothing is held of what was read before."""
    for kept in (source._source_again, spoken_of._ids, spoken_of._words):
        kept.cache_clear()
    load._known.clear()
    shelf._families.clear()


def run(folder: Path, small: bool) -> list[Line]:
    """Ask cold each time, in this process."""
    pieces = 10_000 if small else 100_000
    lay(folder / "c.sqlite", pieces)
    families(folder / "families")
    context = Context(str(folder / "c.sqlite"), family_folders=(folder / "families",))
    ids = shelf.ids(context, "")
    asked: list[float] = []
    shown: list[float] = []
    for number in range(ROUNDS + 1):
        forget()
        begun = time.process_time()
        found = find_family.run(context, f"F234:{0x1010 + 48 * number:04X}")
        asked.append(time.process_time() - begun)
        assert len(found) == 1, found
        forget()
        page = ids[number * ROWS : (number + 1) * ROWS]
        begun = time.process_time()
        rows = shelf.rows(context, page)
        shown.append(time.process_time() - begun)
        assert len(rows) == ROWS
    out = []
    for what, taken in (("find-family", asked), (f"{ROWS} rows with their families", shown)):
        middle = statistics.median(taken[1:])
        name = f"{NAME}, {pieces:,} pieces: {what}, cold"
        out.append(Line(name, f"{middle * 1e3:.0f} ms", "-", "processor time", "under 50 ms", middle < REACH))
    return out


MEASURE = Measure(NAME, run)
