"""Write-out with read-back against `cp`, `sync`, drop cache, `sha256sum -c`: prints its table.

Run: `python tests/bench/write_out.py [FOLDER]`. FOLDER should lie on the medium to be measured; dropping the cache
needs root, and without it the tools read from memory, which only makes the comparison harder for us.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from catalogue.families.model import Role
from catalogue.media.write_out import write
from catalogue.shapes.kit import Kit, KitPiece, RoleChoice
from tests.media.making import FAMILY, KIT, ROUTE

REACH = 1.2
ROUNDS = 5
SIZES = ((4, 6), (20, 8), (300, 12))
"""Megabytes and pieces of each kit."""


def kit_of(source: Path, megabytes: int, count: int) -> tuple[Kit, object]:
    """A kit of `count` pieces of random bytes, which lie in `source` under their SHA-256, with a list for the tools."""
    pieces = []
    for number in range(count):
        data = os.urandom(megabytes * 1_000_000 // count)
        sha256 = hashlib.sha256(data).hexdigest()
        (source / sha256).write_bytes(data)
        pieces.append(KitPiece(sha256, len(data), "opaque", f"p{number}.bin"))
    (source / "LIST").write_text("".join(f"{one.sha256}  {one.sha256}\n" for one in pieces))
    roles = tuple(RoleChoice(f"role-{one.name[:-4]}", True, True, (one.sha256,)) for one in pieces)
    family = replace(FAMILY, roles={one.role: Role(one.role) for one in roles}, routes=(replace(ROUTE, steps=()),))
    return replace(KIT, roles=roles, pieces=tuple(pieces)), family


def by_tools(source: Path, target: Path) -> None:
    """What a careful person types."""
    subprocess.run(["cp", "-r", str(source), str(target)], check=True)
    subprocess.run(["sync", "-f", str(target)], check=True)
    drop = Path("/proc/sys/vm/drop_caches")
    if os.access(drop, os.W_OK):
        drop.write_text("1")
    subprocess.run(["sha256sum", "--quiet", "-c", "LIST"], cwd=target, check=True)


def measured(work: Callable[[Path], None], target: Path, source: Path) -> float:
    """Seconds of one run into an empty target, the source warm in memory."""
    shutil.rmtree(target, ignore_errors=True)
    for one in source.iterdir():
        one.read_bytes()
    os.sync()
    started = time.perf_counter()
    work(target)
    return time.perf_counter() - started


def main() -> None:
    """One row a kit; medians of five after a warm-up, tools and ours in turn."""
    place = sys.argv[1] if len(sys.argv) > 1 else None
    print(f"{'write-out with read-back':<28}{'tools s':>9}{'ours s':>9}{'ratio':>7}{'reach':>7}")
    for megabytes, count in SIZES:
        with tempfile.TemporaryDirectory(dir=place) as folder:
            source, target = Path(folder, "source"), Path(folder, "target")
            source.mkdir()
            kit, family = kit_of(source, megabytes, count)

            def ours(target: Path, kit=kit, family=family, source=source) -> None:
                target.mkdir()
                assert write(kit, family, lambda sha256: (source / sha256).open("rb"), target).read_back == "same"

            def tools(target: Path, source=source) -> None:
                by_tools(source, target)

            rounds = [(measured(tools, target, source), measured(ours, target, source)) for _ in range(ROUNDS + 1)][1:]
            theirs, mine = (statistics.median(one) for one in zip(*rounds, strict=True))
        print(f"{f'{count} pieces, {megabytes} MB':<28}{theirs:>9.3f}{mine:>9.3f}{mine / theirs:>7.2f}{REACH:>7.1f}")


if __name__ == "__main__":
    main()
