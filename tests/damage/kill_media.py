"""Writes a kit again and again in children that are killed, and looks at the medium after each; prints one JSON line.

Run as a process of its own, because it forks: `python kill_media.py FOLDER calls 1` kills a child at its n-th call
into the file system, for every n (with 5, for every fifth); `python kill_media.py FOLDER times 60` kills sixty at
random moments.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from catalogue.media.read_back import read_back
from catalogue.media.write_out import write
from tests.media.making import CODE, FAMILY, KIT, opener, other_kit

CALLS = ("open", "write", "fsync", "close", "mkdir", "unlink", "replace", "rename", "scandir", "rmdir")


def killed_at(number: int):
    """Let this process be killed at its n-th call, half-way through a write."""
    count = 0

    def wrap(name, real):
        def call(*arguments, **more):
            nonlocal count
            count += 1
            if count == number:
                if name == "write":
                    real(arguments[0], bytes(arguments[1])[: len(arguments[1]) // 2])
                os.kill(os.getpid(), signal.SIGKILL)
            return real(*arguments, **more)

        return call

    for name in CALLS:
        setattr(os, name, wrap(name, getattr(os, name)))


def child(work) -> bool:
    """Whether `work` came to its end in a process of its own."""
    pid = os.fork()
    if pid == 0:
        try:
            work()
        except BaseException:
            os._exit(3)
        os._exit(0)
    status = os.waitpid(pid, 0)[1]
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0, status
    return not os.WIFSIGNALED(status)


def whole(folder: Path) -> bool:
    """Whether the kit lies there whole, by bytes and not by our own reading."""
    import hashlib

    sums = folder / CODE / "SHA256.SUM"
    if not sums.exists():
        return False
    lines = sums.read_text().splitlines()
    return len(lines) == 7 and all(
        (folder / CODE / line[66:]).is_file()
        and hashlib.sha256((folder / CODE / line[66:]).read_bytes()).hexdigest() == line[:64]
        for line in lines
    )


def start(folder: Path, way: int) -> None:
    """A medium in one of four states: empty, with another kit, with this kit damaged, with this kit half-written."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    if way == 1:
        kit, family, content = other_kit()
        write(kit, family, opener(content), folder)
    if way >= 2:
        write(KIT, FAMILY, opener(), folder)
        (folder / CODE / "FIRM1204.BIN").write_bytes(b"lost")
    if way == 3:
        (folder / CODE / "HALFWAY.KIT").write_bytes(b"")
        (folder / CODE / "SHA256.SUM").unlink()


def look(folder: Path, tally: dict[str, int]) -> None:
    """After a kill: no half kit passes as whole, and writing again completes it."""
    said = read_back(folder)
    mine = [one.state for one in said.files if one.name.startswith(f"{CODE}/")]
    if whole(folder):
        tally["whole"] += 1
    else:
        tally["half"] += 1
        if (folder / CODE).exists() and any((folder / CODE).iterdir()):
            assert said.read_back == "differs", said
        assert not mine or set(mine) != {"same"}, said
    again = write(KIT, FAMILY, opener(), folder)
    assert again.read_back == "same", again
    assert whole(folder)
    assert read_back(folder).read_back == "same"
    left = {one.name for one in (folder / CODE).iterdir()}
    assert len(left) == 8, left


def main() -> None:
    """Calls one after the other in each state, or random moments."""
    folder, how, many = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    tally = {"kills": 0, "whole": 0, "half": 0}
    if how == "calls":
        for way in range(4):
            number = 1 + way % many - many
            while True:
                number += many
                start(folder, way)

                def work(number=number):
                    killed_at(number)
                    write(KIT, FAMILY, opener(), folder)

                if child(work):
                    break
                tally["kills"] += 1
                look(folder, tally)
    else:
        chance = random.Random(7)
        for round_number in range(many):
            start(folder, round_number % 4)
            pid = os.fork()
            if pid == 0:
                while True:
                    write(KIT, FAMILY, opener(), folder)
                    shutil.rmtree(folder / CODE)
            time.sleep(chance.random() * 0.05)
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
            if not (folder / CODE / "HALFWAY.KIT").exists() and not (folder / CODE / "SHA256.SUM").exists():
                shutil.rmtree(folder / CODE, ignore_errors=True)  # killed while the test itself was clearing up
            tally["kills"] += 1
            look(folder, tally)
    print(json.dumps(tally))


if __name__ == "__main__":
    main()
