"""Search as a person types, over a million pieces: from a key to the first page of rows, without the painting."""

from __future__ import annotations

import hashlib
import random
import time
from pathlib import Path

from catalogue.shapes.reading import CardId, Reading, VersionClaim
from catalogue.store import Store, snapshot
from catalogue.store.found import FileFound, Folder, PieceFound
from catalogue.store.ingest import Ingest
from catalogue.tasks import shelf
from catalogue.tasks.context import Context
from tests.bench.measure import Line, Measure

NAME = "search as you type"
REACH = 0.025
PAGE = 128
BATCH = 5_000


def lay(catalogue: Path, pieces: int) -> None:
    """A catalogue of so many pieces, written by the store's own hand, without any files."""
    chance = random.Random(4)
    words = [
        "".join(chance.choice("abcdefghijklmnoprstuvw") for _ in range(chance.randint(3, 9))) for _ in range(3_000)
    ]
    with Store.open(str(catalogue)) as store:
        with store.writing() as connection:
            begun = snapshot.begin_run(connection, "bench")
        ingest = Ingest(begun.id, begun.table_id)
        for start in range(0, pieces, BATCH):
            files = []
            for number in range(start, min(start + BATCH, pieces)):
                folder = Folder(b"/in/%d" % (number // 100), chance.choice(words))
                reading = Reading(
                    "option-rom",
                    "option-rom/legacy-x86",
                    f"{chance.choice(words)} {chance.choice(words)} boot ROM",
                    ids=(CardId(0xF234, number & 0xFFFF),) if number % 20 == 0 else (),
                    versions=(VersionClaim(f"{number % 30}.{number % 7}.{number % 90:02}", "bench", 0),),
                )
                name = f"{chance.choice(words)}_{number}.rom".encode()
                sha = hashlib.sha256(str(number).encode()).digest()
                files.append(FileFound(folder, name, (1, 1, 1, 1), PieceFound(sha, 1, reading, 1)))
            with store.writing() as connection:
                snapshot.name_folders(connection, [one.folder for one in files])
                ingest.write(connection, files)
        with store.writing() as connection:
            snapshot.end_run(connection, begun.id)


def run(folder: Path, small: bool) -> list[Line]:
    """Type words a letter at a time."""
    pieces = 50_000 if small else 1_000_000
    lay(folder / "c.sqlite", pieces)
    context = Context(str(folder / "c.sqlite"))
    chance = random.Random(5)
    titles = [row.title for row in shelf.rows(context, [chance.randrange(1, pieces) for _ in range(40)])]
    first: list[float] = []
    whole: list[float] = []
    for title in titles:
        for end in range(1, min(len(title), 18) + 1):
            begun = time.perf_counter()
            shelf.rows(context, shelf.ids(context, title[:end], most=PAGE))
            first.append(time.perf_counter() - begun)
            begun = time.perf_counter()
            shelf.ids(context, title[:end])
            whole.append(time.perf_counter() - begun)
    late, last = (sorted(taken)[int(len(taken) * 0.95)] for taken in (first, whole))
    what = f"{NAME}, {pieces:,} pieces, 95th percentile"
    return [
        Line(what, f"{late * 1e3:.1f} ms", "-", f"{late * 1e3:.1f} ms", "under 25 ms", late < REACH),
        Line("the same, ids of the whole answer", f"{last * 1e3:.1f} ms", "-", f"{last * 1e3:.1f} ms", "-", None),
    ]


MEASURE = Measure(NAME, run)
