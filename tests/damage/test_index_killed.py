"""Indexing killed at a random moment: the catalogue opens, is sound, and the next run completes it."""

from __future__ import annotations

import hashlib
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

from catalogue.tasks import index, pieces
from catalogue.tasks.context import Context

CODE = """
import sys
from catalogue.intake import indexing
from catalogue.tasks import index
from catalogue.tasks.context import Context
indexing.WRITE_AT = 40
print("begun", flush=True)
index.run(Context(sys.argv[1]), [sys.argv[2]])
print("done", flush=True)
"""
KILLS = 12


def lay(folder: Path) -> set[str]:
    """Files, archives and lists; the SHA-256s of all contents."""
    chance = random.Random(3)
    wanted: set[str] = set()

    def note(data: bytes) -> bytes:
        wanted.add(hashlib.sha256(data).hexdigest())
        return data

    for number in range(1500):
        home = folder / f"{number % 30:02}"
        home.mkdir(parents=True, exist_ok=True)
        (home / f"{number}.bin").write_bytes(note(b"%d \0" % (number % 1200) + bytes(chance.randrange(3000))))
    for number in range(20):
        with zipfile.ZipFile(folder / f"{number}.zip", "w", zipfile.ZIP_DEFLATED) as made:
            for inner in range(20):
                made.writestr(f"m/{inner}.bin", note(b"member %d %d \0" % (number % 15, inner)))
        note((folder / f"{number}.zip").read_bytes())
    (folder / "00" / "MD5SUMS").write_bytes(note(hashlib.md5(b"x").hexdigest().encode() + b"  0.bin\n"))
    (folder / "long.bin").write_bytes(note(chance.randbytes(6 << 20)))
    return wanted


@pytest.mark.slow
def test_killed_at_random_moments(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    lay(folder)
    inner = {
        hashlib.sha256(b"member %d %d \0" % (number, member)).hexdigest()
        for number in range(15)
        for member in range(20)
    }
    where = tmp_path / "catalogue.sqlite"
    chance = random.Random()
    killed = 0
    for round_ in range(KILLS):
        for number in range(0, 1500, 3):
            (folder / f"{number % 30:02}" / f"{number}.bin").write_bytes(b"round %d %d \0" % (round_, number))
        with subprocess.Popen([sys.executable, "-c", CODE, str(where), str(folder)], stdout=subprocess.PIPE) as work:
            assert work.stdout is not None
            assert work.stdout.readline() == b"begun\n"
            time.sleep(chance.uniform(0, 0.4))
            work.send_signal(signal.SIGKILL)
            work.wait()
            killed += work.returncode == -signal.SIGKILL
        if where.exists():
            raw = sqlite3.connect(where)
            assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert raw.execute("PRAGMA foreign_key_check").fetchall() == []
            raw.close()
    assert killed > KILLS // 3
    wanted = {hashlib.sha256(file.read_bytes()).hexdigest() for file in folder.rglob("*") if file.is_file()} | inner
    context = Context(str(where))
    done = index.run(context, [folder])
    assert done.unreadable == ()
    assert {one.sha256 for one in pieces.run(context)} == wanted
    again = index.run(context, [folder])
    assert (again.new, again.changed, again.gone) == (0, 0, 0)
    raw = sqlite3.connect(where)
    assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    raw.execute("INSERT INTO search_index(search_index, rank) VALUES('integrity-check', 1)")
    raw.close()


def test_killed_between_files_and_the_end(tmp_path: Path) -> None:
    """What only the end of a run does (pieces that lie nowhere are forgotten) is made up for by the next run."""
    folder = tmp_path / "in"
    folder.mkdir()
    for number in range(10):
        (folder / f"{number}.bin").write_bytes(b"%d \0" % number)
    context = Context(str(tmp_path / "catalogue.sqlite"))
    index.run(context, [folder])
    for number in range(5):
        (folder / f"{number}.bin").unlink()
    code = (
        "import os, sys\n"
        "from catalogue.store.ingest import Ingest\n"
        "from catalogue.tasks import index\n"
        "from catalogue.tasks.context import Context\n"
        "Ingest.sweep = lambda *a, **k: os.kill(os.getpid(), 9)\n"
        "index.run(Context(sys.argv[1]), [sys.argv[2]])\n"
    )
    done = subprocess.run([sys.executable, "-c", code, context.catalogue or "", str(folder)], check=False)
    assert done.returncode == -signal.SIGKILL
    assert index.run(context, [folder]).files == 5
    assert len(pieces.run(context)) == 5


def test_stopped_by_a_polite_signal(tmp_path: Path) -> None:
    """Ctrl-C on the command line: exit 3, one sentence, a sound catalogue, and the next run goes on."""
    folder = tmp_path / "in"
    wanted = lay(folder)
    where = tmp_path / "catalogue.sqlite"
    with (folder / "endless.bin").open("wb") as file:
        file.truncate(40 << 30)
    command = [sys.executable, "-c", "import sys; from catalogue.cli.main import main; sys.exit(main())"]
    with subprocess.Popen(
        [*command, "--catalogue", str(where), "index", str(folder)], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL
    ) as work:
        time.sleep(4)
        work.send_signal(signal.SIGINT)
        _out, said = work.communicate(timeout=60)
    assert work.returncode == 3
    assert b"run the same command again" in said
    os.unlink(folder / "endless.bin")
    context = Context(str(where))
    index.run(context, [folder])
    assert {one.sha256 for one in pieces.run(context)} == wanted
