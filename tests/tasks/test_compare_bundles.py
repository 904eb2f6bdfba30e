"""Two versions of a bundle through the task: fields of changed members, unsound archives, bounds, stopping."""

from __future__ import annotations

import gzip
import io
import os
import tarfile
import zipfile
from pathlib import Path

import pytest

from catalogue.comparing import bounds
from catalogue.errors import NotWorkable, Stopped
from catalogue.shapes.comparison import Comparison
from catalogue.shapes.progress import Quiet
from catalogue.tasks import bundle_members, compare, compare_bundles
from catalogue.tasks.context import Context
from tests.formats.build_rom import Made, rom

ROMS = [rom(Made(code_revision=number)) for number in (0x0102, 0x0203)]


@pytest.fixture
def context(tmp_path: Path) -> Context:
    return Context(str(tmp_path / "c.db"))


def lay(folder: Path, files: dict[str, bytes]) -> Path:
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def zipped(files: dict[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return made.getvalue()


def tarred(files: dict[str, bytes]) -> bytes:
    made = io.BytesIO()
    with tarfile.open(fileobj=made, mode="w") as archive:
        for name, data in files.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            archive.addfile(info, io.BytesIO(data))
    return made.getvalue()


def states(done: Comparison) -> dict[str, str]:
    return {one.name: one.state for one in done.members}


@pytest.mark.parametrize("kinds", ["folder folder", "zip zip", "folder zip", "nested nested"])
def test_of_changed_members_the_fields_are_told(kinds: str, context: Context, tmp_path: Path) -> None:
    sides = []
    for number, kind in enumerate(kinds.split()):
        files = {"boot/X.ROM": ROMS[number], "same.txt": b"the same\n"}
        path = tmp_path / f"side{number}"
        if kind == "zip":
            path.write_bytes(zipped(files))
        else:
            lay(path, {"in.zip": zipped(files)} if kind == "nested" else files)
        sides.append(str(path))
    done = compare.run(context, *sides)
    way = "in.zip › boot/X.ROM" if kinds.startswith("nested") else "boot/X.ROM"
    assert states(done)[way] == "changed"
    told = {(row.part, row.name): (row.a, row.b) for row in done.fields}
    assert told[f"{way} > legacy x86", "code_revision"] == (0x0102, 0x0203)
    assert not any(row.name.startswith("member ") for row in done.fields)


def test_what_lies_behind_the_cut_of_an_archive_is_not_called_gone(context: Context, tmp_path: Path) -> None:
    """A stream cut between its members: Python's tarfile wrote it whole."""
    files = {f"{number}.bin": os.urandom(4_096) for number in range(8)}
    whole = tarred(files)
    lay(tmp_path / "folder", files)
    (tmp_path / "whole.tar").write_bytes(whole)
    (tmp_path / "cut.tar").write_bytes(whole[: 3 * (4_096 + 512) + 700])
    assert compare.run(context, str(tmp_path / "folder"), str(tmp_path / "whole.tar")).same
    for a in ("folder", "whole.tar"):
        done = compare.run(context, str(tmp_path / a), str(tmp_path / "cut.tar"))
        assert not done.same
        assert set(states(done).values()) == {"unreadable"}
        assert done.members_same == 3
        back = compare.run(context, str(tmp_path / "cut.tar"), str(tmp_path / a))
        assert states(back) == states(done)
        assert any(one.startswith("B is not sound") for one in done.notes)


def test_the_same_unsound_archive_in_two_folders_is_the_same(context: Context, tmp_path: Path) -> None:
    cut = gzip.compress(tarred({"a.bin": os.urandom(9_000)}))[:5_000]
    sides = [str(lay(tmp_path / name, {"in.tgz": cut})) for name in ("one", "two")]
    assert compare.run(context, *sides).same


def test_changed_members_beyond_the_bound_are_named_only(
    context: Context, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compare_bundles, "MAX_READ_MEMBERS", 2)
    sides = [str(lay(tmp_path / str(n), {f"{i}.rom": ROMS[n] for i in range(4)})) for n in range(2)]
    done = compare.run(context, *sides)
    assert len(done.members) == 4
    assert {row.part.split(" > ")[0] for row in done.fields} == {"0.rom", "1.rom"}
    assert "Only the first 2" in done.notes[0]
    assert bounds.MAX_READ_MEMBERS > 2


def test_a_folder_with_too_much_in_it_is_refused(
    context: Context, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bundle_members, "MOST_FILES", 3)
    few, many = ({f"{i}.txt": b"x" for i in range(n)} for n in (3, 4))
    lay(tmp_path / "few", few)
    assert compare.run(context, str(tmp_path / "few"), str(tmp_path / "few")).same
    with pytest.raises(NotWorkable, match="more than 3 files"):
        compare.run(context, str(lay(tmp_path / "many", many)), str(tmp_path / "few"))


@pytest.mark.parametrize("kind", ["folder", "archive"])
def test_it_stops_inside_an_archive(kind: str, context: Context, tmp_path: Path) -> None:
    """Asked to stop once a member's bytes are being unpacked, it ends there and says so."""
    for name, fill in (("a", b"a"), ("b", b"b")):
        data = tarred({f"{number}.bin": fill * 2_000_000 for number in range(4)})
        lay(tmp_path / f"{name}.d", {"in.tar": data})
        (tmp_path / f"{name}.tar").write_bytes(data)
    ends = ".d" if kind == "folder" else ".tar"
    told: list[str] = []

    class Stopping(Quiet):
        def report(self, done: int, total: int | None, what: str) -> None:
            told.append(what)
            if what.endswith("tar") and told.count(what) > 3:
                raise Stopped("Stopped.")

    with pytest.raises(Stopped):
        compare.run(context, str(tmp_path / f"a{ends}"), str(tmp_path / f"b{ends}"), Stopping())
    assert len([one for one in told if one.endswith("tar")]) == 4


@pytest.mark.skipif(os.name == "nt", reason="links and pipes of POSIX")
def test_links_and_pipes_in_a_folder_are_not_followed(context: Context, tmp_path: Path) -> None:
    one = lay(tmp_path / "one", {"x.txt": b"x"})
    two = lay(tmp_path / "two", {"x.txt": b"x", "secret": b""})
    (two / "secret").unlink()
    os.mkfifo(two / "pipe")
    (two / "round").symlink_to(two)
    done = compare.run(context, str(one), str(two))
    assert done.members_same == 1
    assert all(len(Path(name).parts) == 1 for name in states(done))
