"""Versions of more than sixty real files: what must be found, where, and what must not. The table is `version_corpus`.

Outside readers: `strings` of binutils says which versions of compilers and libraries stand in a file; Debian's control
file says which version the package is; pefile (PyPI) reads the launchers' version resources.
"""

from __future__ import annotations

import functools
import re
import shutil
import subprocess
from pathlib import Path

import pefile
import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import TRUST, DateClaim, VersionClaim
from catalogue.store.derived import dates_in, versions_in
from tests.reference import version_corpus, windows_programs
from tests.reference.version_corpus import ROWS, Row

pytestmark = pytest.mark.outside

EACH = pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.package}:{row.files}")
_OTHERS = re.compile(
    r"GCC: \([^)]*\) (\d[\w.]*)|\b(?:GLIBC|GLIBCXX|CXXABI|OPENSSL|ZLIB)_(\d[\w.]*)|\bOpenSSL (\d[\w.]*)"
    r"|(?:inf|def)late (\d[\d.]*) Copyright|gcc[^(]*\([^)]*\) (\d[\w.]*)|\(GNU Binutils[^)]*\) (\d[\w.]*)"
)

_DAY_OR_YEAR = re.compile(r"(?:19|20)\d\d|\d{1,2}[./-]\d{1,2}[./-](?:19|20)\d\d|\d{4}-\d\d-\d\d")


@functools.cache
def claims(path: Path) -> tuple[tuple[VersionClaim, ...], tuple[DateClaim, ...]]:
    reading = formats.read(BytesView(path.read_bytes()))
    return versions_in(reading), dates_in(reading)


@EACH
def test_what_must_be_found(row: Row):
    paths = version_corpus.files_of(row)
    assert paths
    said = version_corpus.versions_of(row.of or row.package)
    for path in paths:
        found, dates = claims(path)
        for value, source in row.must:
            want = value.format(**said)
            assert any(one.value == want and re.search(source, one.source) for one in found), (path.name, want, found)
        for day in row.dates:
            assert day in [one.value for one in dates], (path.name, day, dates)
        if row.none:
            assert not found, path.name


@EACH
def test_what_must_not(row: Row):
    for path in version_corpus.files_of(row):
        values = [one.value for one in claims(path)[0]]
        assert not set(row.not_) & set(values), path.name
        assert not any(_DAY_OR_YEAR.fullmatch(one) for one in values), path.name


@EACH
def test_libraries_and_compilers_are_no_claims(row: Row):
    """What `strings` shows as the version of a compiler or a library is not among the claims."""
    if shutil.which("strings") is None:
        pytest.skip("strings of binutils is not here")
    said = version_corpus.versions_of(row.of or row.package)
    own = {value.format(**said) for value, _ in row.must}
    for path in version_corpus.files_of(row):
        text = subprocess.run(["strings", "-a", "-n", "4", str(path)], capture_output=True, check=True).stdout
        others = {one for match in _OTHERS.findall(text.decode("latin-1")) for one in match if one} - own
        assert not others & {one.value for one in claims(path)[0]}, path.name


@EACH
def test_every_claim_stands_where_it_says(row: Row):
    """The text of a claim lies at its offset, in ASCII or UTF-16LE; the most trusted stand first."""
    for path in version_corpus.files_of(row):
        data = path.read_bytes()
        found, _ = claims(path)
        assert [TRUST.index(one.trust) for one in found] == sorted(TRUST.index(one.trust) for one in found)
        for one in found:
            assert one.source
            if one.offset is not None:
                texts = (one.value.encode(), one.value.encode("utf-16-le"))
                assert data[one.offset :].startswith(texts), (path.name, one)


def test_launchers_say_what_pefile_reads():
    """The launchers of PyPI distlib bring a version resource, those of setuptools none and so no field's claim."""
    launchers = windows_programs.launchers()
    assert len(launchers) >= 8
    for path in launchers:
        fields = {one.value for one in claims(path)[0] if one.trust == "field"}
        program = pefile.PE(str(path))
        want = set()
        for block in getattr(program, "FileInfo", ()):
            for table in (one for info in block for one in getattr(info, "StringTable", ())):
                strings = {key.decode(): value.decode() for key, value in table.entries.items()}
                want |= {strings[key] for key in ("FileVersion", "ProductVersion") if strings.get(key)}
        assert want <= fields, path.name
        assert bool(want) == bool(fields), path.name


def test_the_corpus_is_large_enough():
    assert sum(len(version_corpus.files_of(row)) for row in ROWS) + len(windows_programs.launchers()) >= 60
