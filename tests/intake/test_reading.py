"""The quick look answers as the slow one does; digests answer as the standards do."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.formats import read
from catalogue.formats.view import BytesView
from catalogue.intake.reading import read_short, read_view
from catalogue.store import Store
from catalogue.store.lists import digests_of
from catalogue.tasks import index
from catalogue.tasks.context import Context
from tests.contracts.samples import SAMPLES

heads = st.sampled_from(
    [
        b"",
        b"\0",
        b"\xff",
        b"MZ",
        b"\x7fELF",
        b"\x55\xaa",
        b"PK\3\4",
        b"PK\5\6",
        b"\xef\xbb\xbf",
        b"\xff\xfe",
        b"BSDIFF40",
        b"A",
    ]
)
middles = st.sampled_from([b"", b"1.2.3", b"v1.2", b"7\0.\x003\0", b"\0\0", b"text\n", b"0" * 64 + b"  x\n", b"\n"])
tails = st.sampled_from([b"", b"PK\5\6" + bytes(18), b"\0", b"\n"])


@given(heads, st.binary(max_size=40), middles, st.binary(max_size=700), tails)
def test_the_quick_look_agrees(head: bytes, one: bytes, middle: bytes, two: bytes, tail: bytes) -> None:
    data = head + one + middle + two + tail
    assert read_short(data, "x")[0] == read(BytesView(data)) == read_view(BytesView(data), "x")[0]


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda one: getattr(one, "name", None))
def test_the_quick_look_agrees_about_samples(sample: object) -> None:
    data = getattr(sample, "data", sample)
    assert isinstance(data, bytes)
    assert read_short(data, "x")[0] == read(BytesView(data))


VECTORS = {
    # FIPS 180-4 examples as given in RFC 6234, 8.5 (SHA) and RFC 1321, A.5 (MD5): "abc", "" and longer texts.
    ("md5", b""): "d41d8cd98f00b204e9800998ecf8427e",
    ("md5", b"a"): "0cc175b9c0f1b6a831c399e269772661",
    ("md5", b"abc"): "900150983cd24fb0d6963f7d28e17f72",
    ("md5", b"message digest"): "f96b697d7cb7938d525a2f31aaf161d0",
    ("sha1", b"abc"): "a9993e364706816aba3e25717850c26c9cd0d89d",
    ("sha224", b"abc"): "23097d223405d8228642a477bda255b32aadbce4bda0b3f7e36c9da7",
    ("sha256", b""): "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    ("sha256", b"abc"): "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    ("sha256", b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"): (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
    ("sha256", b"a" * 1_000_000): "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
    ("sha384", b"abc"): (
        "cb00753f45a35e8bb5a03d699ac65007272c32ab0eded1631a8b605a43ff5bed8086072ba1e7cc2358baeca134c825a7"
    ),
    ("sha512", b"abc"): (
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
        "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f"
    ),
}


@pytest.mark.outside
def test_digests_are_those_of_the_standards(tmp_path: Path) -> None:
    """Each vector lies as a file beside a list that needs its digest; the catalogue must find the published one."""
    folder = tmp_path / "in"
    folder.mkdir()
    for number, ((algorithm, data), digest) in enumerate(VECTORS.items()):
        home = folder / str(number)
        home.mkdir()
        (home / "vector").write_bytes(data)
        (home / f"{algorithm}sums.txt").write_text(f"{digest}  vector\n")
    context = Context(str(tmp_path / "c.sqlite"))
    index.run(context, [folder])
    with Store.open(context.catalogue) as store, store.reading() as connection:
        ids = dict(connection.exec_driver_sql("SELECT sha256, id FROM piece").fetchall())
        known = digests_of(connection, ids.values())
    for (algorithm, data), digest in VECTORS.items():
        assert known[ids[hashlib.sha256(data).digest()], algorithm].hex() == digest
