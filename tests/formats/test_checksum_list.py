"""Checksum lists: every spelling by hand, the tools' own output, and what only resembles a list."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue import formats
from catalogue.formats import checksum_list
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import ListEntry, Reading
from tests.formats.build_detached import FINGERPRINT, armour, body, packet

BODY = b"piece"
DIGESTS = {
    name: hashlib.new(name, BODY).hexdigest() for name in ("md5", "sha1", "sha224", "sha256", "sha384", "sha512")
}
SHA256, MD5 = DIGESTS["sha256"], DIGESTS["md5"]
PROSE = "Checksums are given so that a download can be compared before it is used.\n"


def read(text: str | bytes) -> Reading:
    data = text.encode("utf-8", "surrogateescape") if isinstance(text, str) else text
    reading = checksum_list.read(BytesView(data))
    assert reading is not None
    return reading


def entries(text: str | bytes) -> list[tuple[str, str, str, int]]:
    return [(one.algorithm, one.digest, one.name, one.line) for one in read(text).entries]


def names(text: str | bytes) -> list[str]:
    return [one.name for one in read(text).entries]


@pytest.mark.parametrize("algorithm", DIGESTS)
def test_every_algorithm_in_every_spelling(algorithm: str):
    digest = DIGESTS[algorithm]
    tag = algorithm.upper()
    for text in (
        f"{digest}  a.rom\n",
        f"{digest} *a.rom\n",
        f"{digest}\ta.rom\n",
        f"{digest} a.rom\n",
        f"{digest}    a.rom\n".replace("    ", "\t\t"),
        f"{digest.upper()}  a.rom",
        f"{tag} (a.rom) = {digest}\n",
        f"{tag}(a.rom)= {digest}\n",
        f"{tag.replace('SHA', 'SHA-')} (a.rom) = {digest}\n",
        f"\ufeff{digest}  a.rom\r\n",
        f"\r\n# a comment\r\n; another\r\n{digest}  a.rom\r\n\r\n",
    ):
        assert [one[:3] for one in entries(text)] == [(algorithm, digest, "a.rom")]
    assert entries(f"{digest}\n") == [(algorithm, digest, "", 1)]
    assert entries(f"  {digest}   \n") == [(algorithm, digest, "", 1)]
    for encoding in ("utf-16", "utf-16-le", "utf-16-be"):
        mark = "" if encoding == "utf-16" else "\ufeff"
        assert names(f"{mark}{digest}  ä.rom\r\n".encode(encoding)) == ["ä.rom"]


def test_openssl_3_names_its_algorithms_otherwise():
    assert entries(f"SHA2-256(a.rom)= {SHA256}\n") == [("sha256", SHA256, "a.rom", 1)]


def test_names_as_they_are():
    assert names(f"{SHA256}  with  two blanks \n") == ["with  two blanks "]
    assert names(f"{SHA256}   leading\n") == [" leading"]
    assert names(f"{SHA256}  *star\n") == ["*star"]
    assert names(f"{SHA256}  dir\\file.rom\n") == ["dir\\file.rom"]
    assert names(f"\\{SHA256}  dir\\\\file\\n.rom\\r\n") == ["dir\\file\n.rom\r"]
    assert names(f"\\SHA256 (a\\\\b) = {SHA256}\n") == ["a\\b"]
    assert names(f"SHA256 (a (1) = b).rom) = {SHA256}\n") == ["a (1) = b).rom"]
    assert names(f"{SHA256}  ".encode() + b"\xff\xe4.rom\n") == ["\udcff\udce4.rom"]


def test_lines_count_from_one():
    assert [one[3] for one in entries(f"# head\n\n{SHA256}  a\n\n{MD5}  b\n")] == [3, 5]


def test_a_list_of_carriage_returns():
    assert names(f"{SHA256}  a\r{SHA256}  b\r") == ["a", "b"]


SIGNATURE = armour(packet(body())).decode()


def clear(text: str, signature: str = SIGNATURE) -> str:
    return f"-----BEGIN PGP SIGNED MESSAGE-----\nHash: SHA512\n\n{text}{signature}"


def test_text_signed_in_the_clear():
    text = clear(f"{SHA256}  a.rom\n- {MD5}  b.rom\n")
    assert entries(text) == [("sha256", SHA256, "a.rom", 4), ("md5", MD5, "b.rom", 5)]
    reading = read(text)
    assert reading.value("signed_text") is True
    assert not reading.faults
    assert not reading.notes
    (part,) = reading.parts
    assert (part.kind, part.value("issuer_fingerprint")) == ("signature/openpgp", FINGERPRINT.hex())
    assert entries(text.replace("\n", "\r\n")) == entries(text)


def test_lines_outside_the_signed_text_count_for_nothing():
    text = clear(f"{SHA256}  a.rom\n")
    for more in (f"{MD5}  b.rom\n" + text, text + f"{MD5}  b.rom\n", f"{MD5}  b.rom\n\n\n" + text):
        assert [one[2] for one in entries(more)] == ["a.rom"]
        (note,) = read(more).notes
        assert note.text == "Lines outside the signed text, which count for nothing: 1."
    assert [one[2] for one in entries(text + text.replace("a.rom", "b.rom"))] == ["a.rom"]


def test_a_signature_in_the_clear_that_is_damaged():
    cut = "-----BEGIN PGP SIGNATURE-----\n\niQIzBAEB\n-----END PGP SIGNATURE-----\n"
    reading = read(clear(f"{SHA256}  a.rom\n", cut))
    assert [one.code for one in reading.faults] == ["signature-damaged"]
    assert [one.code for one in read(clear(f"{SHA256}  a.rom\n", "")).faults] == ["signature-damaged"]


@pytest.mark.parametrize(
    "line",
    [
        SHA256[:-1] + "  a.rom",
        SHA256 + "ab  a.rom",
        f"SHA256 (a.rom) = {SHA256[:-2]}",
        f"SHA256 (a.rom) = {MD5}",
        f"SHA256 (a.rom) = {SHA256[:-1]}g",
        f"MD5 (a.rom) = {SHA256}",
        f"\\{SHA256}  a\\tb",
        f"\\{SHA256}  a\\",
        SHA256[:30],
    ],
)
def test_lines_that_were_meant_as_entries(line: str):
    text = f"{SHA256}  ä\n{line}\n"
    reading = read(text)
    assert [one.line for one in reading.entries] == [1]
    assert [one.code for one in reading.faults] == ["list-line"]
    fault = reading.faults[0]
    assert fault.offset == len(f"{SHA256}  ä\n".encode())
    assert fault.text.startswith("Line 2: ")
    wide = read(("\ufeff" + text).encode("utf-16-le")).faults[0]
    assert wide.offset == 2 + 2 * len(f"{SHA256}  ä\n")


def test_many_bad_lines_are_summed_up():
    text = f"{SHA256}  a\n" * 70 + f"{SHA256[:-1]}  b\n" * 70
    reading = read(text)
    assert len(reading.faults) == 51
    assert reading.faults[-1].text == "20 more lines like these."


def test_other_algorithms_are_counted_not_taken():
    text = f"SHA256 (a) = {SHA256}\nSHA3-256 (a) = {SHA256}\nSHA512/256 (a) = {SHA256}\n"
    text += f"BLAKE2b (a) = {DIGESTS['sha512']}\n"
    assert entries(text) == [("sha256", SHA256, "a", 1)]
    assert [one.text for one in read(text).notes] == ["Entries by algorithms that are not read here: 3."]


def test_a_heading_is_noted():
    assert [one.code for one in read(f"Checksums of release twelve\n{SHA256}  a\n{MD5}  b\n").notes] == ["list-odd"]


@pytest.mark.parametrize(
    "text",
    [
        "",
        PROSE,
        PROSE + f"{SHA256}  a.rom\n",
        PROSE * 2 + f"{SHA256}  a.rom\n{MD5}  b.rom\n",
        f"The digest is {SHA256}.\n",
        f"{SHA256}\n{SHA256}\n",  # two bare digests by one algorithm: a dump, or nobody knows whose
        f"{MD5}\n" * 40,
        f"SHA3-256 (a) = {SHA256}\n",
        f"Key (a) = {SHA256}\n",
        f"{SHA256[:-1]}  a\n" * 3 + f"{SHA256}  b\n",
        f"{SHA256[:31]}  a\n",
        "0123456789abcdef0123456789abcdef01234\n",
        f"commit {DIGESTS['sha1']}\nAuthor: nobody\n\n    Say more\n",
    ],
)
def test_what_is_no_list(text: str):
    assert checksum_list.read(BytesView(text.encode())) is None
    assert formats.read(BytesView(text.encode())).kind in ("text", "opaque")


def test_zero_bytes_are_no_list():
    assert checksum_list.looks_like(BytesView(f"{SHA256}  a\0\n".encode())) is Looks.NO


def test_digests_of_three_algorithms_alone():
    """Several bare digests are one file's where each is by another algorithm."""
    assert [one[0] for one in entries(f"{MD5}\n{DIGESTS['sha1']}\n{SHA256}\n")] == ["md5", "sha1", "sha256"]


def test_bounds(monkeypatch: pytest.MonkeyPatch):
    text = "".join(f"{SHA256}  {number}\n" for number in range(2000))
    monkeypatch.setattr(checksum_list, "MAX_LIST_ENTRIES", 100)
    reading = read(text)
    assert len(reading.entries) == 100
    assert [one.code for one in reading.faults] == ["list-too-long"]
    monkeypatch.setattr(checksum_list, "MAX_LIST_ENTRIES", 100_000)
    monkeypatch.setattr(checksum_list, "MAX_LIST_BYTES", 5000)
    assert "list-too-long" in {one.code for one in read(text).faults}


def test_a_long_list_is_read_in_time():
    text = "".join(f"{SHA256}  {number}.rom\n" for number in range(20_000))
    started = time.process_time()
    assert len(read(text).entries) == 20_000
    assert time.process_time() - started < 5


@pytest.mark.parametrize(
    "line", ["f" * (1 << 20), "A(" * (1 << 19), "\\" * (1 << 20), f"{SHA256}  " + "a\\" * (1 << 19)]
)
def test_long_lines_do_not_run_away(line: str):
    started = time.process_time()
    checksum_list.read(BytesView(f"{SHA256}  a\n{line}\n\\{SHA256}  {line}\n".encode()))
    assert time.process_time() - started < 3


SPELLINGS = st.sampled_from(["text", "binary", "tag", "openssl"])
TAKEN = st.text(st.characters(codec="utf-8", exclude_characters="\0\r\n\\"), min_size=1, max_size=30).filter(
    # A name of nothing but blanks cannot be told from blanks behind a bare digest.
    lambda name: name.strip(" \t")
)


@given(
    st.lists(
        st.tuples(st.sampled_from(sorted(DIGESTS)), st.binary(max_size=8), TAKEN, SPELLINGS), min_size=1, max_size=8
    ),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
)
def test_what_was_written_is_read(lines, encoding: str, ending: str, upper: bool):
    want, text = [], ""
    for number, (algorithm, content, name, spelling) in enumerate(lines, 1):
        digest = hashlib.new(algorithm, content).hexdigest()
        want.append(ListEntry(algorithm, digest, name, number))
        shown = digest.upper() if upper else digest
        text += {
            "text": f"{shown}  {name}",
            "binary": f"{shown} *{name}",
            "tag": f"{algorithm.upper()} ({name}) = {shown}",
            "openssl": f"{algorithm.upper()}({name})= {shown}",
        }[spelling] + ending
    assert list(read(text.encode(encoding)).entries) == want


ODD = [
    b"plain.rom",
    b"two  blanks.rom",
    b"-dash",
    b"*star",
    b" leading",
    b"(par) = en.rom",
    b"back\\slash",
    b"line\nend",
    b"\xff\xe4.bin",
]
TOOLS = [[f"{name}sum"] for name in DIGESTS] + [[f"{name}sum", "--tag"] for name in DIGESTS]
TOOLS += [
    ["sha256sum", "-b"],
    ["openssl", "dgst", "-sha256"],
    ["openssl", "dgst", "-md5"],
    ["openssl", "dgst", "-sha512", "-r"],
]


@pytest.mark.outside
@pytest.mark.skipif(sys.platform == "win32", reason="the names are such as only other systems allow")
@pytest.mark.parametrize("words", TOOLS, ids=" ".join)
def test_what_the_tools_write(words: list[str], tmp_path: Path):
    """The output of coreutils and openssl, for names that need their escapes: each name and digest comes back."""
    if shutil.which(words[0]) is None:
        pytest.skip(f"needs {words[0]}")
    odd = [name for name in ODD if words[0] != "openssl" or (b"\n" not in name and b"\\" not in name)]
    for number, name in enumerate(odd):
        (tmp_path / os.fsdecode(name)).write_bytes(b"%d" % number)
    given = [b"./" + name for name in odd] if words[0] == "openssl" else [b"--", *odd]
    done = subprocess.run([*map(os.fsencode, words), *given], cwd=tmp_path, capture_output=True, check=True)
    reading = read(done.stdout)
    assert not reading.faults
    assert not reading.notes
    algorithm = next(name for name in sorted(DIGESTS, key=len, reverse=True) if name in "".join(words))
    assert [(one.name.removeprefix("./"), one.digest) for one in reading.entries] == [
        (os.fsdecode(name), hashlib.new(algorithm, b"%d" % number).hexdigest()) for number, name in enumerate(odd)
    ]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("algorithm", "message", "digest"),
    [
        ("md5", "abc", "900150983cd24fb0d6963f7d28e17f72"),  # RFC 1321, A.5
        ("sha1", "abc", "a9993e364706816aba3e25717850c26c9cd0d89d"),  # RFC 3174, 7.3
        ("sha256", "abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),  # RFC 6234 (FIPS 180-4)
    ],
)
def test_published_digests(algorithm: str, message: str, digest: str):
    """The algorithm that a digest's length names is the one that makes it."""
    assert hashlib.new(algorithm, message.encode()).hexdigest() == digest
    assert entries(f"{digest}  abc.txt\n")[0][0] == algorithm
