"""Index 3,000 mixed files, 3 GB, warm: against `sha256sum`, and against two `openssl dgst` at once."""

from __future__ import annotations

import random
from pathlib import Path

from tests.bench.measure import Line, Measure, fresh_index, ratio_line, seconds, turns
from tests.formats.build_rom import Made, efi, rom

NAME = "index 3,000 mixed files, 3 GB"


def lay(folder: Path, files: int, total: int) -> None:
    """Option ROMs, text, and long files of no known format, half of them of bytes as if packed."""
    chance = random.Random(1)
    boot = rom(Made(last=False), efi())
    words = [f"word{number}" for number in range(400)]
    mean = total // files
    for number in range(files):
        home = folder / f"{number % 40:02}"
        home.mkdir(parents=True, exist_ok=True)
        size = int(mean * (0.25 + 1.5 * chance.random()))
        if number % 10 == 0:
            data = boot + b"\xff" * (65_536 - len(boot)) + number.to_bytes(4, "big")
        elif number % 10 == 1:
            line = " ".join(chance.choice(words) for _ in range(12)) + "\n"
            data = f"Notes {number}\n{line * 200}".encode()
        elif number % 2:
            data = chance.randbytes(size)
        else:
            block = chance.randbytes(4096)
            data = b"".join(block + number.to_bytes(8, "big") + at.to_bytes(4, "big") for at in range(size // 4108))
        (home / f"{number}.bin").write_bytes(data)
    left = total - sum(file.stat().st_size for file in folder.rglob("*.bin"))
    if left > 0:
        (folder / "rest.bin").write_bytes(chance.randbytes(1 << 20) * (left >> 20))


def run(folder: Path, small: bool) -> list[Line]:
    """Lay the files and time the three."""
    data = folder / "data"
    lay(data, 3_000, 300_000_000 if small else 3_000_000_000)
    ours, coreutils, openssl = turns(
        lambda: fresh_index(data, folder / "c.sqlite"),
        lambda: seconds(f"find '{data}' -type f -print0 | xargs -0 sha256sum"),
        lambda: seconds(f"find '{data}' -type f -print0 | xargs -0 -P 2 -n 100 openssl dgst -sha256"),
    )
    return [
        ratio_line(NAME, "sha256sum", ours, coreutils, at_least=5),
        ratio_line(NAME, "two openssl dgst", ours, openssl, at_most=1.3),
    ]


MEASURE = Measure(NAME, run)
