"""tar, gzip, xz, bzip2 and Zstandard, opened where they lie: Python's own writers and Debian's programs as makers."""

from __future__ import annotations

import bz2
import gzip
import hashlib
import io
import lzma
import shutil
import subprocess
import tarfile
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from backports import zstd
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.intake import archives, bounds, fetch
from catalogue.store import Store
from catalogue.tasks import index, pieces
from catalogue.tasks.context import Context

PACK: dict[str, Callable[[bytes], bytes]] = {
    "gz": lambda data: gzip.compress(data, mtime=0),
    "xz": lzma.compress,
    "bz2": bz2.compress,
    "zst": lambda data: zstd.compress(data, options={zstd.CompressionParameter.checksum_flag: 1}),
}
FILES = {"fw/fw.bin": b"firmware of the Bittern " * 50, "notes.txt": b"lay it on\r\n", "leer.bin": b""}


def tarred(files: dict[str, bytes] = FILES, form: int = tarfile.PAX_FORMAT) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w", format=form) as archive:
        for name, data in files.items():
            one = tarfile.TarInfo(name)
            one.size = len(data)
            archive.addfile(one, io.BytesIO(data))
    return out.getvalue()


class Bench:
    """A folder and a catalogue."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "in"
        self.folder.mkdir()
        self.context = Context(str(folder / "c.sqlite"))

    def index(self, **files: bytes):
        for name, data in files.items():
            (self.folder / name.replace("__", ".")).write_bytes(data)
        return index.run(self.context, [self.folder])

    def places(self) -> dict[str, str]:
        """The SHA-256 by place, the folder's own path left out."""
        known = pieces.run(self.context)
        start = len(str(self.folder)) + 1
        return {str(place)[start:]: one.sha256 for one in known for place in one.places}

    def kinds(self) -> dict[str, str]:
        start = len(str(self.folder)) + 1
        return {str(place)[start:]: one.kind for one in pieces.run(self.context) for place in one.places}

    def bytes_of(self, sha256: str) -> bytes:
        with Store.open(self.context.catalogue) as store:
            return fetch.piece_bytes(store, sha256)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize("form", [tarfile.USTAR_FORMAT, tarfile.GNU_FORMAT, tarfile.PAX_FORMAT])
def test_tar(bench, form):
    long = "/".join(["a" * 60] * 3) + "/" + "b" * 90 if form != tarfile.USTAR_FORMAT else "c" * 80
    summary = bench.index(a__tar=tarred({**FILES, long: b"long"}, form))
    assert summary.unreadable == ()
    places = bench.places()
    for name, data in {**FILES, long: b"long"}.items():
        assert places[f"a.tar › {name}"] == sha(data)
        assert bench.bytes_of(sha(data)) == data
    assert bench.kinds()["a.tar"] == "archive/tar"


@pytest.mark.parametrize("how", PACK)
def test_a_packed_tar(bench, how):
    whole = tarred()
    summary = bench.index(**{f"a__tar__{how}": PACK[how](whole)})
    assert summary.unreadable == ()
    places = bench.places()
    assert places[f"a.tar.{how} › unpacked"] == sha(whole)
    assert places[f"a.tar.{how} › unpacked › fw/fw.bin"] == sha(FILES["fw/fw.bin"])
    assert bench.bytes_of(sha(FILES["fw/fw.bin"])) == FILES["fw/fw.bin"]
    assert bench.bytes_of(sha(whole)) == whole


@pytest.mark.parametrize("how", PACK)
def test_a_packed_file_is_vouched_for_by_its_own_check(bench, how):
    data = bytes(range(256)) * 40
    bench.index(**{f"fw__bin__{how}": PACK[how](data)})
    (one,) = [one for one in pieces.run(bench.context) if one.sha256 == sha(data)]
    assert [vouch.rung for vouch in one.vouch] == ["neighbour"]


def test_without_a_check_nobody_vouches(bench):
    data = bytes(range(256)) * 40
    bench.index(
        fw__xz=lzma.compress(data, check=lzma.CHECK_NONE),
        fw__zst=zstd.compress(data, options={zstd.CompressionParameter.checksum_flag: 0}),
    )
    (one,) = [one for one in pieces.run(bench.context) if one.sha256 == sha(data)]
    assert one.vouch == ()
    bench.index(a__tar=tarred({"x": data + b"x"}))
    (one,) = [one for one in pieces.run(bench.context) if one.sha256 == sha(data + b"x")]
    assert one.vouch == ()


@pytest.mark.parametrize("how", PACK)
@pytest.mark.parametrize("limit", [1 << 16, 1 << 20])
def test_a_tar_too_large_to_hold_is_read_while_it_goes_past(bench, how, limit, monkeypatch):
    monkeypatch.setattr(bounds, "MAX_MEMBER_BYTES", limit)
    files = {f"{number}.bin": number.to_bytes(4, "big") * 20_000 for number in range(20)}
    whole = tarred(files)
    assert len(whole) > limit
    summary = bench.index(**{f"a__tar__{how}": PACK[how](whole)})
    assert summary.unreadable == ()
    places = bench.places()
    assert places[f"a.tar.{how} › unpacked"] == sha(whole)
    for name, data in files.items():
        assert places[f"a.tar.{how} › unpacked › {name}"] == sha(data)
    if limit > 100_000:
        for number in (19, 3, 3, 11):
            assert bench.bytes_of(sha(files[f"{number}.bin"])) == files[f"{number}.bin"]
        with Store.open(bench.context.catalogue) as store:
            got = dict(fetch.each(store, [sha(data) for data in files.values()]))
        assert all(data is not None and sha(data) == sha256 for sha256, data in got.items())
        assert len(got) == len(files)


def test_members_are_unpacked_once(bench, monkeypatch):
    """One pass through a stream, however many members: the bytes asked of zlib are those of the archive."""
    from catalogue.intake.containers import stream_members

    monkeypatch.setattr(bounds, "MAX_MEMBER_BYTES", 1 << 16)
    given_out = 0
    plain = stream_members._Gzip.decompress

    def counting(self, data, most, /):
        nonlocal given_out
        out = plain(self, data, most)
        given_out += len(out)
        return out

    monkeypatch.setattr(stream_members._Gzip, "decompress", counting)
    files = {f"{number}.bin": bytes([number]) * 9_000 for number in range(200)}
    whole = tarred(files)
    bench.index(a__tgz=PACK["gz"](whole))
    assert given_out == len(whole)
    given_out = 0
    with Store.open(bench.context.catalogue) as store:
        assert all(data is not None for _sha, data in fetch.each(store, [sha(data) for data in files.values()]))
    assert given_out <= 2 * len(whole)


@pytest.mark.parametrize("how", PACK)
def test_damage_says_so(bench, how):
    data = PACK[how](tarred())
    middle = bytearray(data)
    middle[len(data) // 2] ^= 0x55
    summary = bench.index(**{f"cut__{how}": data[: len(data) * 2 // 3], f"bit__{how}": bytes(middle)})
    told = {Path(one.place.split(" › ")[0]).name: one.why for one in summary.unreadable}
    assert set(told) == {f"cut.{how}", f"bit.{how}"}
    assert "cut short" in told[f"cut.{how}"] or "not unpack" in told[f"cut.{how}"]
    assert sha(tarred()) not in bench.places().values()


@pytest.mark.parametrize("how", PACK)
def test_parts_end_to_end_and_what_stands_behind(bench, how):
    whole = PACK[how](b"one ") + PACK[how](b"two")
    files = {"two": whole, "pad": whole + bytes(64), "more": whole + b"rubbish"}
    summary = bench.index(**{f"{name}__{how}": data for name, data in files.items()})
    places = bench.places()
    assert places[f"two.{how} › unpacked"] == places[f"pad.{how} › unpacked"] == sha(b"one two")
    assert [Path(one.place).name for one in summary.unreadable] == [f"more.{how}"]
    assert "behind its end" in summary.unreadable[0].why


def test_a_gzips_own_check_and_name(bench):
    named = io.BytesIO()
    with gzip.GzipFile("boot.rom", "wb", fileobj=named, mtime=0) as out:
        out.write(b"boot " * 100)
    data = named.getvalue()
    long = gzip.compress(b"other " * 500_000, mtime=0)
    summary = bench.index(
        a__gz=data,
        b__gz=data[:-8] + bytes(4) + data[-4:],
        c__gz=long[:-4] + bytes(4),
        d__gz=gzip.compress(b"", mtime=0),
    )
    places = bench.places()
    assert places["a.gz › boot.rom"] == places["b.gz › boot.rom"] == sha(b"boot " * 100)
    assert places["c.gz › unpacked"] == sha(b"other " * 500_000)
    assert places["d.gz › unpacked"] == sha(b"")
    assert ["its own check fails" in one.why for one in summary.unreadable] == [True, True]
    (one,) = [one for one in pieces.run(bench.context) if one.sha256 == sha(b"other " * 500_000)]
    assert one.vouch == ()


@pytest.mark.parametrize("cut", range(1, 9))
def test_a_gzip_cut_inside_its_trailer(bench, cut):
    summary = bench.index(a__gz=gzip.compress(b"boot " * 100, mtime=0)[:-cut])
    assert "cut short" in summary.unreadable[0].why
    assert sha(b"boot " * 100) not in bench.places().values()


def test_a_gzip_with_every_part_of_a_header(bench):
    """RFC 1952, 2.3.1: an extra field, a name, a comment and a sum of the header."""
    head = b"\x1f\x8b\x08\x1e" + bytes(6) + b"\5\0extra" + b"boot.rom\0" + b"a comment\0" + b"\xab\xcd"
    body = gzip.compress(b"boot " * 100, mtime=0)[10:]
    bench.index(a__gz=head + body)
    assert bench.places()["a.gz › boot.rom"] == sha(b"boot " * 100)
    summary = bench.index(b__gz=b"\x1f\x8b\x08\x08" + bytes(6) + b"n" * 300_000)
    assert any("header of more than" in one.why for one in summary.unreadable)


def test_one_part_without_a_check_leaves_the_whole_unchecked(bench):
    body = bytes(range(256)) * 40
    bench.index(
        a__xz=lzma.compress(body) + lzma.compress(body, check=lzma.CHECK_NONE),
        a__zst=PACK["zst"](body) + zstd.compress(body, options={zstd.CompressionParameter.checksum_flag: 0}),
    )
    (one,) = [one for one in pieces.run(bench.context) if one.sha256 == sha(2 * body)]
    assert one.vouch == ()


LINKED = [
    (tarfile.SYMTYPE, "link"), (tarfile.LNKTYPE, "link"), (tarfile.CHRTYPE, "device"), (tarfile.FIFOTYPE, "device"),
]  # fmt: skip


def test_links_devices_and_hard_names_are_told_and_not_followed(bench, tmp_path):
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as archive:
        for number, (kind, _word) in enumerate(LINKED):
            one = tarfile.TarInfo(f"odd{number}")
            one.type, one.linkname = kind, "/etc/passwd"
            archive.addfile(one)
        for name in ("../up.bin", "/abs.bin", "C:\\x.bin", "a\nb\x1b[31m\u202e.bin", "x" * 60_000):
            one = tarfile.TarInfo(name)
            one.size = 4
            archive.addfile(one, io.BytesIO(b"four"))
        one = tarfile.TarInfo("twice")
        one.size = 3
        archive.addfile(one, io.BytesIO(b"one"))
        archive.addfile(one, io.BytesIO(b"two"))
    summary = bench.index(a__tar=out.getvalue())
    why = " ".join(one.why for one in summary.unreadable)
    assert "link, which is not followed" in why
    assert "device, a pipe or a socket" in why
    assert "more than once" in why
    assert not (tmp_path / "up.bin").exists()
    names = [name for name in bench.places() if name.startswith("a.tar › ")]
    assert any("../up.bin" in name for name in names)


def test_a_tar_that_ends_early(bench):
    whole = tarred({"a": b"x" * 5_000, "b": b"y" * 5_000})
    summary = bench.index(a__tar=whole[:8_000])
    assert any("cut short" in one.why for one in summary.unreadable)
    assert sha(b"x" * 5_000) in bench.places().values()


# --- bombs ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", PACK)
def test_a_flat_bomb_stops_at_the_ratio(bench, how, monkeypatch):
    monkeypatch.setattr(bounds, "FREE_BYTES", 1 << 20)
    summary = bench.index(**{f"bomb__{how}": PACK[how](bytes(40 << 20))})
    assert "times its size" in summary.unreadable[0].why


def test_a_nested_bomb_stops_too(bench, monkeypatch):
    monkeypatch.setattr(bounds, "FREE_BYTES", 4 << 20)
    data = PACK["gz"](bytes(40 << 20))
    for _ in range(3):
        data = PACK["gz"](data)
    summary = bench.index(bomb__gz=data)
    assert any("times its size" in one.why for one in summary.unreadable)


def test_too_deep(bench):
    data = b"deep inside"
    for _ in range(bounds.MAX_DEPTH + 1):
        data = PACK["gz"](data)
    summary = bench.index(deep__gz=data)
    assert any("archives deep" in one.why for one in summary.unreadable)


def test_too_many_members(bench, monkeypatch):
    monkeypatch.setattr(bounds, "MAX_MEMBERS", 5)
    summary = bench.index(a__tar=tarred({str(number): b"x" for number in range(9)}))
    assert any("more than 5 members" in one.why for one in summary.unreadable)


def test_a_window_larger_than_is_given(bench):
    packer = zstd.ZstdCompressor(options={zstd.CompressionParameter.window_log: 28})
    summary = bench.index(w__zst=packer.compress(bytes(range(256)) * 1_000) + packer.flush())
    assert "needs more memory" in summary.unreadable[0].why


def test_xz_that_wants_too_much_memory(bench, monkeypatch):
    from catalogue.intake.containers import stream_members

    monkeypatch.setattr(stream_members, "XZ_MEMORY", 1 << 16)
    summary = bench.index(w__xz=lzma.compress(b"x" * 1_000, preset=9))
    assert "needs more memory" in summary.unreadable[0].why


# --- properties -------------------------------------------------------------------------------------------------------


@settings(max_examples=40)
@given(
    st.dictionaries(st.text("abc/ü\u202e", min_size=1, max_size=120).filter(lambda one: not one.endswith("/")),
                    st.binary(max_size=2_000), max_size=6),
    st.sampled_from(sorted(PACK)),
)  # fmt: skip
def test_what_was_put_in_comes_out(files, how):
    """Against Python's tarfile and compressors as makers."""
    from catalogue import formats
    from catalogue.formats.view import BytesView

    whole = PACK[how](tarred(files))
    view = BytesView(whole)
    road = archives.Road(len(whole), lambda: False)
    members, why = archives.open_archive(view, formats.read(view), road, "x")
    assert not why
    (one,) = members
    assert one.piece is not None
    inner = {m.name: m.piece.sha256.hex() for m in one.piece.members or () if m.piece is not None}
    assert inner == {name: sha(data) for name, data in files.items()}


@settings(max_examples=60)
@given(st.sampled_from([*PACK, "tar"]), st.integers(0, 10_000), st.binary(min_size=1, max_size=6))
def test_mutations_never_escape(how, at, put):
    from catalogue import formats
    from catalogue.formats.view import BytesView

    whole = bytearray(tarred() if how == "tar" else PACK[how](tarred()))
    at %= len(whole)
    whole[at : at + len(put)] = put
    view = BytesView(bytes(whole))
    reading = formats.read(view)
    from catalogue.intake.containers import is_archive

    if is_archive(reading):
        archives.open_archive(view, reading, archives.Road(len(whole), lambda: False), "x")


# --- other makers -----------------------------------------------------------------------------------------------------

PROGRAMS: Iterable[tuple[str, list[str]]] = (
    ("gz", ["gzip", "-9", "-n"]), ("xz", ["xz", "-9e"]), ("bz2", ["bzip2", "-9"]),
    ("zst", ["zstd", "-q", "-19", "--rm"]),
)  # fmt: skip


@pytest.mark.outside
@pytest.mark.parametrize(("suffix", "words"), PROGRAMS, ids=lambda one: one if isinstance(one, str) else "")
def test_gnu_tar_and_the_compressors_own_programs(bench, tmp_path, suffix, words):
    """GNU tar, gzip, xz, bzip2 and zstd as makers, `sha256sum` of what they were given as the answer."""
    for program in ("tar", words[0]):
        if shutil.which(program) is None:
            pytest.skip(f"no {program} here")
    for name, data in FILES.items():
        (tmp_path / "src" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "src" / name).write_bytes(data)
    subprocess.run(["tar", "-C", tmp_path / "src", "-cf", bench.folder / "a.tar", "."], check=True, timeout=60)
    subprocess.run([*words, bench.folder / "a.tar"], check=True, timeout=60)
    assert bench.index().unreadable == ()
    places = bench.places()
    for name, data in FILES.items():
        told = subprocess.run(["sha256sum", tmp_path / "src" / name], capture_output=True, text=True, check=True)
        inside = "a.tar" if suffix == "none" else "unpacked"
        assert places[f"a.tar.{suffix} › {inside} › ./{name}"] == told.stdout[:64] == sha(data)


def test_a_zip_in_a_tar_in_a_zip(bench):
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("rom/x.rom", b"rom" * 100)
    outer = io.BytesIO()
    with zipfile.ZipFile(outer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("b.tar.xz", PACK["xz"](tarred({"in.zip": inner.getvalue()})))
    bench.index(a__zip=outer.getvalue())
    assert bench.places()["a.zip › b.tar.xz › unpacked › in.zip › rom/x.rom"] == sha(b"rom" * 100)
    assert bench.bytes_of(sha(b"rom" * 100)) == b"rom" * 100


