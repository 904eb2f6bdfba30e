"""Archives where they lie: nested, bounded, damaged, hostile. Nothing of them is trusted or written to disk."""

from __future__ import annotations

import hashlib
import io
import os
import shutil
import struct
import subprocess
import tarfile
import zipfile
import zlib
from pathlib import Path

import pytest

from catalogue.intake import archives, bounds
from catalogue.shapes.piece import PieceInfo
from catalogue.shapes.results import IndexSummary
from catalogue.store import Store, evidence
from catalogue.tasks import index, pieces
from catalogue.tasks.context import Context
from tests.formats.build_zip import Entry, archive


class Bench:
    """A catalogue and a folder with archives."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "in"
        self.folder.mkdir()
        self.context = Context(str(folder / "catalogue.sqlite"))

    def put(self, name: str, data: bytes) -> None:
        (self.folder / name).write_bytes(data)

    def index(self) -> IndexSummary:
        return index.run(self.context, [self.folder])

    def pieces(self) -> dict[str, PieceInfo]:
        return {one.sha256: one for one in pieces.run(self.context)}

    def inside(self) -> dict[str, list[tuple[str, ...]]]:
        return {sha: [place.inside for place in one.places] for sha, one in self.pieces().items()}

    def why(self) -> dict[str, str]:
        stem = f"{self.folder}{os.sep}"
        return {one.place.removeprefix(stem): one.why for one in self.index().unreadable}


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def zipped(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return out.getvalue()


FIRMWARE = b"firmware \0" + bytes(range(256)) * 20


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_members_are_pieces(bench: Bench, method: int) -> None:
    data = zipped({"rom/fw.bin": FIRMWARE, "notes.txt": b"hello\n", "empty": b""}, method)
    bench.put("a.zip", data)
    done = bench.index()
    assert (done.files, done.pieces, done.archives, done.unreadable) == (1, 4, 1, ())
    assert bench.inside() == {
        sha(data): [()],
        sha(FIRMWARE): [("rom/fw.bin",)],
        sha(b"hello\n"): [("notes.txt",)],
        sha(b""): [("empty",)],
    }


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("zip") is None or shutil.which("unzip") is None, reason="zip and unzip are not here")
def test_against_zip_and_unzip(bench: Bench, tmp_path: Path) -> None:
    """Info-ZIP packs, and unpacks piped to sha256sum, what we read in place."""
    source = tmp_path / "source"
    for number, size in enumerate((0, 1, 70_000, 1 << 20, (1 << 20) + 1, 3_500_000)):
        (source / str(number % 2)).mkdir(parents=True, exist_ok=True)
        (source / str(number % 2) / f"{number}.bin").write_bytes(os.urandom(size // 2) + bytes(size - size // 2))
    subprocess.run(["zip", "-qr", str(bench.folder / "a.zip"), "."], cwd=source, check=True)
    bench.index()
    told: dict[str, tuple[str, ...]] = {}
    for name in subprocess.run(
        ["unzip", "-Z1", "a.zip"], cwd=bench.folder, capture_output=True, text=True, check=True
    ).stdout.split():
        if not name.endswith("/"):
            unpacked = subprocess.run(["unzip", "-p", "a.zip", name], cwd=bench.folder, capture_output=True, check=True)
            out = subprocess.run(["sha256sum"], input=unpacked.stdout, capture_output=True, check=True)
            told[out.stdout.decode().split()[0]] = (name,)
    assert {key: places[0] for key, places in bench.inside().items() if places[0]} == told


def test_nested(bench: Bench) -> None:
    inner = zipped({"deep.bin": FIRMWARE})
    middle = zipped({"inner.zip": inner, "x.txt": b"x\n"}, zipfile.ZIP_STORED)
    bench.put("outer.zip", zipped({"m/middle.zip": middle}))
    assert bench.index().archives == 3
    assert bench.inside()[sha(FIRMWARE)] == [("m/middle.zip", "inner.zip", "deep.bin")]


def test_depth_is_bounded(bench: Bench) -> None:
    data = zipped({"heart.bin": FIRMWARE})
    for _ in range(bounds.MAX_DEPTH):
        data = zipped({"next.zip": data})
    bench.put("deep.zip", data)
    why = bench.why()
    assert sha(FIRMWARE) not in bench.pieces()
    assert [place.count("›") for place in why] == [bounds.MAX_DEPTH]
    assert "archives deep" in next(iter(why.values()))


def test_the_same_archive_less_deep_is_opened_after_all(bench: Bench) -> None:
    """Whichever is met first, the deep one or the other: the pieces are the same."""
    heart = zipped({"heart.bin": FIRMWARE})
    data = heart
    for _ in range(bounds.MAX_DEPTH):
        data = zipped({"next.zip": data})
    bench.put("a.zip", data)
    bench.index()
    assert sha(FIRMWARE) not in bench.pieces()
    bench.put("b.zip", heart)
    bench.index()
    assert sha(FIRMWARE) in bench.pieces()
    bench.put("c.zip", zipped({"again.zip": data}))
    bench.index()
    assert sha(FIRMWARE) in bench.pieces()


def test_one_content_once(bench: Bench) -> None:
    data = zipped({"a.bin": FIRMWARE, "b.bin": FIRMWARE})
    for number in range(5):
        bench.put(f"{number}.zip", data)
    bench.put("loose.bin", FIRMWARE)
    done = bench.index()
    assert (done.files, done.pieces, done.archives) == (6, 2, 1)
    assert len(bench.pieces()[sha(FIRMWARE)].places) == 11


def test_an_archive_goes(bench: Bench) -> None:
    bench.put("outer.zip", zipped({"inner.zip": zipped({"deep.bin": FIRMWARE, "x": b"x\0"}), "y": b"y\0"}))
    bench.put("x.bin", b"x\0")
    bench.index()
    assert len(bench.pieces()) == 5
    (bench.folder / "outer.zip").unlink()
    bench.index()
    assert bench.inside() == {sha(b"x\0"): [()]}


HOSTILE = [
    b"../../up.bin",
    b"/etc/passwd",
    b"C:\\x.bin",
    b"a\0b.bin",
    b"\\\\host\\share",
    b"..\\up",
    b"CON",
    b"",
    b"x" * 999,
]


def test_names_are_only_text(bench: Bench, tmp_path: Path) -> None:
    bodies = {name: b"%d \0" % number for number, name in enumerate(HOSTILE)}
    before = sorted(path for path in tmp_path.rglob("*"))
    bench.put("bad.zip", archive(*[Entry(name, body) for name, body in bodies.items()]))
    bench.index()
    found = bench.inside()
    for name, body in bodies.items():
        assert found[sha(body)] == [(name.decode("cp437"),)]
    kept = {path for path in tmp_path.rglob("*") if not path.name.startswith("catalogue.sqlite")}
    assert kept == {*(one for one in before if not one.name.startswith("catalogue")), bench.folder / "bad.zip"}


def test_links_and_devices_are_reported(bench: Bench) -> None:
    link = Entry(b"link", b"/etc/passwd", made_by=3 << 8, outer=0o120777 << 16)
    device = Entry(b"device", b"", made_by=3 << 8, outer=0o060600 << 16)
    bench.put("a.zip", archive(link, device, Entry(b"plain", b"plain \0")))
    assert set(bench.why()) == {"a.zip › link", "a.zip › device"}
    assert sha(b"/etc/passwd") not in bench.pieces()


def test_encrypted_is_reported(bench: Bench) -> None:
    bench.put("a.zip", archive(Entry(b"locked.bin", FIRMWARE, flags=1), Entry(b"open.bin", b"open \0")))
    assert bench.why() == {"a.zip › locked.bin": "It is encrypted."}
    assert sha(b"open \0") in bench.pieces()


def test_wrong_crc_speaks_against_the_piece(bench: Bench) -> None:
    bench.put("a.zip", archive(Entry(b"fw.bin", FIRMWARE, method=8, crc32=1), Entry(b"ok.bin", b"ok \0")))
    assert "CRC" in bench.why()["a.zip › fw.bin"]
    assert faults(bench, FIRMWARE) == ["archive-damaged"]
    assert faults(bench, b"ok \0") == []
    assert not [one for one in bench.pieces()[sha(FIRMWARE)].vouch if one.algorithm == "crc32"]
    bench.put("fine.zip", zipped({"fw.bin": FIRMWARE}))
    bench.index()
    assert faults(bench, FIRMWARE) == [], "one sound place is enough"


def faults(bench: Bench, data: bytes) -> list[str]:
    with Store.open(bench.context.catalogue) as store:
        return [one.code for one in evidence.facts(store, [sha(data)])[sha(data)].member_faults]


def test_a_loose_copy_is_a_sound_place(bench: Bench) -> None:
    bench.put("a.zip", archive(Entry(b"fw.bin", FIRMWARE, method=8, crc32=1)))
    bench.put("fw.bin", FIRMWARE)
    bench.index()
    assert faults(bench, FIRMWARE) == []


def test_one_name_twice(bench: Bench) -> None:
    bench.put("a.zip", archive(Entry(b"fw.bin", b"one \0"), Entry(b"fw.bin", b"two \0")))
    assert len(bench.index().unreadable) == 2
    assert faults(bench, b"one \0") == faults(bench, b"two \0") == ["archive-damaged"]


@pytest.mark.parametrize(("size", "says"), [(10, "more bytes"), (10_000_000, "fewer bytes")])
def test_lying_sizes(bench: Bench, size: int, says: str) -> None:
    bench.put("a.zip", archive(Entry(b"fw.bin", FIRMWARE, method=8, size=size, local_size=size)))
    assert says in bench.why()["a.zip › fw.bin"]
    assert sha(FIRMWARE) not in bench.pieces()


def test_packed_rubbish(bench: Bench) -> None:
    good = zipped({"fw.bin": FIRMWARE})
    at = good.index(b"fw.bin") + 6
    bench.put("a.zip", good[:at] + b"\xff" * 50 + good[at + 50 :])
    assert "does not unpack" in bench.why()["a.zip › fw.bin"]


def test_cut_short(bench: Bench) -> None:
    good = zipped({"fw.bin": FIRMWARE, "b.bin": b"b \0"})
    bench.put("a.zip", good[: len(good) - 30])
    assert "directory" in bench.why()["a.zip"] or "end" in bench.why()["a.zip"]
    (piece,) = bench.pieces().values()
    assert piece.faults


def test_troubles_are_told_again_when_nothing_changed(bench: Bench) -> None:
    bench.put("a.zip", archive(Entry(b"locked.bin", FIRMWARE, flags=1)))
    first, second = bench.index(), bench.index()
    assert first.unreadable == second.unreadable
    assert second.unchanged == 1


# Bombs


def test_flat_bomb(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "FREE_BYTES", 4 << 20)
    bench.put("bomb.zip", zipped({"zeros.bin": bytes(64 << 20), "after.bin": b"after \0"}))
    why = bench.why()
    assert "times its size" in why["bomb.zip"]
    assert sha(b"after \0") not in bench.pieces()


def test_blank_images_are_no_bomb(bench: Bench) -> None:
    blank = b"\xff" * (32 << 20)
    bench.put("blank.zip", zipped({"blank.bin": blank}))
    assert bench.why() == {}
    assert sha(blank) in bench.pieces()


def test_total_is_bounded(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "MAX_UNPACKED_BYTES", 3 << 20)
    bench.put("big.zip", zipped({f"{number}.bin": os.urandom(1 << 20) for number in range(6)}, zipfile.ZIP_STORED))
    assert "GiB" in bench.why()["big.zip"]
    assert len(bench.pieces()) == 4


def test_nested_bomb_spends_from_one_purse(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten copies of ten copies: each archive is small, together they are not."""
    monkeypatch.setattr(bounds, "FREE_BYTES", 8 << 20)
    inner = zipped({"zeros.bin": bytes(1 << 20)})
    middle = zipped({f"{number}.zip": inner for number in range(10)})
    bench.put("outer.zip", zipped({f"{number}.zip": middle for number in range(10)}))
    assert "times its size" in bench.why()["outer.zip"]


def test_overlapping_bomb(bench: Bench) -> None:
    """Every entry points at the same packed kernel (as in D. Fifield, "A better zip bomb", 2019)."""
    kernel = zlib.compress(bytes(4 << 20), 9)[2:-4]
    crc = zlib.crc32(bytes(4 << 20))
    data = struct.pack("<4s5H3L2H", b"PK\3\4", 20, 0, 8, 0, 0x21, crc, len(kernel), 4 << 20, 1, 0) + b"0" + kernel
    central = b"".join(
        struct.pack("<4s6H3L5H2L", b"PK\1\2", 20, 20, 0, 8, 0, 0x21, crc, len(kernel), 4 << 20, 3, 0, 0, 0, 0, 0, 0)
        + b"%03d" % number
        for number in range(1000)
    )
    end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 1000, 1000, len(central), len(data), 0)
    bench.put("bomb.zip", data + central + end)
    done = bench.index()
    assert len(done.unreadable) >= 1000
    assert done.pieces <= 2


def test_member_count_is_bounded(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "MAX_MEMBERS", 10)
    inner = zipped({f"{number}": b"%d \0" % number for number in range(4)})
    bench.put("a.zip", zipped({f"{number}.zip": inner for number in range(5)}))
    assert "more than 10 members" in bench.why()["a.zip"]


def test_members_that_the_size_does_not_explain(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Archives that repeat, in archives that repeat: each packs to nothing, and together they are endless."""
    monkeypatch.setattr(bounds, "FREE_MEMBERS", 20)
    data = b"x \0"
    for _ in range(3):
        data = zipped({f"{number}": data for number in range(8)})
    assert len(data) // bounds.MEMBER_BYTES < 8 + 64 + 512
    bench.put("a.zip", data)
    assert "more members than its size explains" in bench.why()["a.zip"]


def test_many_small_members_are_no_bomb(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "FREE_MEMBERS", 20)
    bench.put("a.zip", zipped({f"{number}": b"%d \0" % number for number in range(200)}))
    assert bench.why() == {}
    monkeypatch.setattr(bounds, "MEMBER_BYTES", 1_000)
    bench.put("b.zip", zipped({f"{number}": b"b%d \0" % number for number in range(200)}))
    assert "than its size explains" in bench.why()["b.zip"]


def test_thousands_of_small_files_that_are_much_alike_are_no_bomb(bench: Bench) -> None:
    """They pack to a few bytes each: 3,000 to 9 kB."""
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:xz") as made:
        for number in range(3_000):
            data = b"value = %d\n" % number
            info = tarfile.TarInfo(f"settings/{number:05}.cfg")
            info.size = len(data)
            made.addfile(info, io.BytesIO(data))
    assert len(out.getvalue()) < 3_000 * bounds.MEMBER_BYTES
    bench.put("settings.tar.xz", out.getvalue())
    done = bench.index()
    assert not done.unreadable
    assert done.pieces == 3_002


def test_members_that_lie_deep_weigh_more(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def nested(mark: str) -> bytes:
        inner = zipped({f"{number}.bin": b"%d \0" % number + mark.encode() for number in range(8)})
        return zipped({"b.zip": zipped({"c.zip": inner})})

    monkeypatch.setattr(bounds, "FREE_MEMBERS", 12)
    monkeypatch.setattr(bounds, "MEMBER_BYTES", 1_000)
    bench.put("a.zip", nested("a"))
    assert "than its size explains" in bench.why()["a.zip"]
    monkeypatch.setattr(bounds, "DEEP_MEMBERS", 1)
    bench.put("b.zip", nested("b"))
    assert "b.zip" not in bench.why()


def test_folders_count_too(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "MAX_MEMBERS", 10)
    bench.put("a.zip", zipped({f"{number}/": b"" for number in range(20)}))
    assert "more than 10 members" in bench.why()["a.zip"]


def test_large_members_are_hashed_but_not_held(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "MAX_MEMBER_BYTES", 100_000)
    large = b"A line of text.\n" * 20_000
    bench.put("a.zip", zipped({"large.txt": large}))
    bench.index()
    assert bench.pieces()[sha(large)].title == "Too large to be read inside an archive"
    bench.put("large.txt", large)
    bench.index()
    assert bench.pieces()[sha(large)].kind == "text", "where it can be read whole, that reading counts"
    bench.put("b.zip", zipped({"other.txt": large}))
    bench.index()
    assert bench.pieces()[sha(large)].kind == "text"


def test_stored_members_need_no_memory(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "MAX_MEMBER_BYTES", 1000)
    inner = zipped({"fw.bin": FIRMWARE[:900]})
    bench.put("a.zip", zipped({"inner.zip": inner, "pad.bin": bytes(5000)}, zipfile.ZIP_STORED))
    bench.index()
    assert bench.inside()[sha(FIRMWARE[:900])] == [("inner.zip", "fw.bin")]


def test_behind_a_program(bench: Bench) -> None:
    stub = b"MZ" + struct.pack("<13H", 100, 2, 0, 2, 0, 0xFFFF, 0, 0, 0, 0, 0, 0x1C, 0) + bytes(600)
    bench.put("self.exe", stub + zipped({"fw.bin": FIRMWARE}))
    assert bench.index().archives == 1
    assert bench.inside()[sha(FIRMWARE)] == [("fw.bin",)]


def test_a_road_counts_across_archives() -> None:
    road = archives.Road(1000, lambda: False)
    road.spend(bounds.FREE_BYTES)
    with pytest.raises(Exception, match="times its size"):
        road.spend(1)
