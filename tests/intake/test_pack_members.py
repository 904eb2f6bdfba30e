"""7z archives, cabinets, installers, packages and cpio archives where they lie: their members are pieces.

Every member is indexed, its bytes are had again, and what is damaged, locked or no file says so.
"""

from __future__ import annotations

import hashlib
import os
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from catalogue.intake import bounds, fetch
from catalogue.intake.containers import CONTAINERS
from catalogue.store import Store
from catalogue.tasks import index, pieces
from catalogue.tasks.context import Context
from tests.formats import build_7z, build_cab
from tests.formats.build_compound import installer
from tests.formats.build_packs import DEVICE, FOLDER, LINK, Entry, ar, cpio, deb, rpm
from tests.formats.build_pe import MadePe, pe
from tests.reference import pack_programs

ROM = b"firmware \0" + random.Random(8).randbytes(90_000)
NOTES = b"Write the image before any restart.\r\n" * 40
Members = dict[str, bytes]


def seven(members: Members) -> bytes:
    return build_7z.archive(*(build_7z.File(name, body) for name, body in members.items()))


def cab(members: Members) -> bytes:
    return build_cab.cabinet(*(build_cab.File(name.encode(), body) for name, body in members.items()))


def archived(members: Members) -> bytes:
    return ar(*((name.encode() + b"/", body) for name, body in members.items()))


def packed(members: Members) -> bytes:
    return cpio(*(Entry(name.encode(), body) for name, body in members.items()), form=b"070702")


def behind(make: Callable[[Members], bytes]) -> Callable[[Members], bytes]:
    return lambda members: pe(MadePe(subsystem=2, overlay=make(members)))


MAKERS = {
    "7z": seven, "cab": cab, "msi": installer, "ar": archived, "cpio": packed, "7z behind a program": behind(seven),
    "cab behind a program": behind(cab),
}  # fmt: skip
EVERY = pytest.mark.parametrize("make", MAKERS.values(), ids=MAKERS.keys())


class Bench:
    """A catalogue and a folder with archives."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "in"
        self.folder.mkdir()
        self.context = Context(str(folder / "catalogue.sqlite"))

    def put(self, name: str, data: bytes) -> dict[str, str]:
        """Index it; why what could not be read was not, by its way inside."""
        (self.folder / name).write_bytes(data)
        stem = f"{self.folder}{os.sep}"
        return {one.place.removeprefix(stem): one.why for one in index.run(self.context, [self.folder]).unreadable}

    def inside(self) -> dict[tuple[str, ...], str]:
        """The SHA-256 of what lies at each way inside."""
        return {place.inside: one.sha256 for one in pieces.run(self.context) for place in one.places}



@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@EVERY
def test_members_are_pieces_and_are_had_again(make: Callable[[Members], bytes], bench: Bench, tmp_path: Path):
    members = {"rom.bin": ROM, "notes.txt": NOTES, "last.bin": ROM[::-1]}
    data = make(members)
    assert bench.put("a.bin", data) == {}
    inside = bench.inside()
    found = {way[0]: digest for way, digest in inside.items() if way}
    assert found == {name: sha(body) for name, body in members.items()}
    with Store.open(str(tmp_path / "catalogue.sqlite")) as store:
        for body in (*members.values(), *reversed(members.values())):
            assert fetch.piece_bytes(store, sha(body)) == body
        assert dict(fetch.each(store, [sha(body) for body in members.values()])) == {
            sha(body): body for body in members.values()
        }
        with fetch.open_piece(store, sha(ROM)) as stream:
            assert stream.read() == ROM


@EVERY
@pytest.mark.parametrize("inner", [seven, cab, packed], ids=["7z", "cab", "cpio"])
def test_nested(make: Callable[[Members], bytes], inner: Callable[[Members], bytes], bench: Bench, tmp_path: Path):
    bench.put("a.bin", make({"inner.bin": inner({"rom.bin": ROM}), "z": b"\1\2\3"}))
    assert bench.inside()["inner.bin", "rom.bin"] == sha(ROM)
    with Store.open(str(tmp_path / "catalogue.sqlite")) as store:
        assert fetch.piece_bytes(store, sha(ROM)) == ROM


@EVERY
def test_only_so_deep(make: Callable[[Members], bytes], bench: Bench, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(bounds, "MAX_DEPTH", 1)
    why = bench.put("a.bin", make({"inner.bin": seven({"rom.bin": ROM})}))
    assert "archives deep" in " ".join(why.values())
    assert ("inner.bin", "rom.bin") not in bench.inside()


@EVERY
def test_a_bomb_ends(make: Callable[[Members], bytes], bench: Bench, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(bounds, "FREE_BYTES", 1 << 16)
    monkeypatch.setattr(bounds, "MAX_RATIO", 1)
    members = {f"{number}": bytes([number]) * 200_000 for number in range(6)}
    data = make(members)
    why = " ".join(bench.put("a.bin", data).values())
    if len(data) < 600_000:
        assert "times its size; the rest was not read" in why


@EVERY
def test_every_prefix_and_flipped_byte_is_survived(make: Callable[[Members], bytes], tmp_path: Path):
    """Intake's own road, without its guard against what a reader raises: an opener raises only what it may."""
    from catalogue.formats import known
    from catalogue.formats.view import BytesView
    from catalogue.intake import containers
    from catalogue.intake.containers.container import Damaged

    whole = make({"rom.bin": ROM[:700], "notes.txt": NOTES[:300], "last.bin": ROM[:99]})
    chance = random.Random(11)
    for number in range(300):
        data = bytearray(whole[: chance.randrange(len(whole))] if number % 3 == 0 else whole)
        for _ in range(number % 4):
            if data:
                data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        view = BytesView(bytes(data))
        reading = known(view)
        opened = None if reading is None else containers.opened(view, reading)
        if opened is None:
            continue
        for entry in opened.entries():
            if entry.usable and not entry.folder:
                total = 0
                try:
                    for chunk in opened.chunks(entry):
                        total += len(chunk)
                        assert entry.size is None or total <= entry.size
                except Damaged as error:
                    assert str(error)
        assert all(one.endswith(".") for one in opened.faults)


def test_links_devices_and_names_are_told(bench: Bench):
    tree = (Entry(b"lib", b"", FOLDER, 2), Entry(b"lib/a", ROM), Entry(b"lib/link", b"a", LINK),
            Entry(b"tty", b"", DEVICE), Entry(b"../../up", NOTES),
            Entry(b"twice", b"\1one"), Entry(b"twice", b"\1two"))  # fmt: skip
    why = bench.put("a.cpio", cpio(*tree))
    assert "is a link, which is not followed" in why["a.cpio › lib/link"]
    assert "device" in why["a.cpio › tty"]
    assert "more than once" in why["a.cpio › twice"]
    assert bench.inside()["lib/a",] == sha(ROM)
    assert bench.inside()["../../up",] == sha(NOTES)
    assert not (bench.folder.parent / "up").exists()


@pytest.mark.outside
@pytest.mark.parametrize("how", [["-psecret"], ["-psecret", "-mhe=on"]], ids=["members", "list"])
def test_locked_archives_say_so(how: list[str], bench: Bench, tmp_path: Path):
    pack_programs.files(tmp_path / "src")
    pack_programs.run("7zip", "7zz", "a", "-bd", *how, tmp_path / "a.7z", ".", folder=tmp_path / "src")
    why = bench.put("a.7z", (tmp_path / "a.7z").read_bytes())
    assert any("encrypted" in one for one in why.values())
    assert [way for way in bench.inside() if way and way != ("empty",)] == []


def test_wrong_bytes_are_told(bench: Bench):
    why = bench.put("a.7z", build_7z.archive(build_7z.File("rom", ROM, crc=7), build_7z.File("b", NOTES)))
    assert "the CRC" in why["a.7z › rom"]
    assert "a.7z › b" not in why
    assert bench.inside()["b",] == sha(NOTES)
    why = bench.put("b.cab", build_cab.cabinet(build_cab.File(b"rom", ROM[::-1]), wrong_sum=True))
    assert "checksum is wrong" in why["b.cab › rom"]


def test_a_debian_and_an_rpm_package_hold_their_parts(bench: Bench):
    assert bench.put("a.deb", deb(ROM, suffix=b"")) == {}
    assert bench.inside()["data.tar",] == sha(ROM)
    payload = packed({"./lib/rom.bin": NOTES})
    assert bench.put("b.rpm", rpm(payload)) == {}
    assert bench.inside()["payload.cpio.xz",] == sha(payload)
    assert bench.inside()["payload.cpio.xz", "./lib/rom.bin"] == sha(NOTES)


def test_a_member_too_large_to_be_held_is_read_while_it_goes_past(bench: Bench, monkeypatch: pytest.MonkeyPatch):
    """A cpio archive in a 7z archive, larger than a member may be."""
    monkeypatch.setattr(bounds, "MAX_MEMBER_BYTES", 50_000)
    inner = packed({"rom.bin": NOTES, "x": ROM[:30_000], "y": ROM[30_000:60_000]})
    assert len(inner) > 50_000
    why = bench.put("a.7z", seven({"big.cpio": inner}))
    assert why == {}
    inside = bench.inside()
    assert inside["big.cpio",] == sha(inner)
    assert inside["big.cpio", "rom.bin"] == sha(NOTES)
    assert inside["big.cpio", "y"] == sha(ROM[30_000:60_000])


def test_every_kind_that_is_opened_has_its_reader():
    from catalogue.formats import READERS

    assert set(CONTAINERS) <= {kind for row in READERS for kind in row.kinds}


@pytest.mark.outside
@pytest.mark.parametrize("how", ["none", "gzip", "xz"])
def test_files_in_what_dpkg_deb_packs(how: str, bench: Bench, tmp_path: Path):
    root = tmp_path / "root"
    made = pack_programs.files(root / "lib")
    (root / "DEBIAN").mkdir()
    control = "Package: heron\nVersion: 1\nArchitecture: all\nMaintainer: Bench <a@example.org>\nDescription: test\n"
    (root / "DEBIAN" / "control").write_text(control)
    pack_programs.run("dpkg", "dpkg-deb", f"-Z{how}", "-b", root, tmp_path / "out.deb", folder=tmp_path)
    assert bench.put("a.deb", (tmp_path / "out.deb").read_bytes()) == {}
    inside = {way[-1]: digest for way, digest in bench.inside().items() if way}
    assert {name: inside[f"./lib/{name}"] for name in made} == {name: sha(body) for name, body in made.items()}
    assert inside["./control"] == sha(control.encode())
    with Store.open(str(tmp_path / "catalogue.sqlite")) as store:
        for body in made.values():
            assert fetch.piece_bytes(store, sha(body)) == body


@pytest.mark.outside
@pytest.mark.parametrize("how", ["w9.gzdio", "w2.xzdio", "w3.zstdio"])
def test_files_in_what_rpmbuild_packs(how: str, bench: Bench, tmp_path: Path):
    made = pack_programs.files(tmp_path / "src")
    path = pack_programs.rpm_package(tmp_path, how, tmp_path / "src" / "HERON.ROM")
    assert bench.put("a.rpm", path.read_bytes()) == {}
    inside = {way[-1]: digest for way, digest in bench.inside().items() if way}
    assert inside["./lib/HERON.ROM"] == sha(made["HERON.ROM"])
    with Store.open(str(tmp_path / "catalogue.sqlite")) as store:
        assert fetch.piece_bytes(store, sha(made["HERON.ROM"])) == made["HERON.ROM"]
