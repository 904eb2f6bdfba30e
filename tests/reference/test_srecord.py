"""Hex texts that srec_cat of Debian's srecord writes, and what it makes of ours."""

import hashlib
import os
import subprocess
from pathlib import Path

import pytest

from catalogue.formats import read
from catalogue.formats.view import BytesView
from tests.formats.build_hex import intel_hex, s_records
from tests.formats.build_rom import Made, image
from tests.reference import debian

pytestmark = pytest.mark.outside
ROM = image(Made(blocks=3))
OUT = {"-Intel": "intel-hex", "-Motorola": "s-record"}


def srec_cat(*arguments: str | Path) -> None:
    program = debian.files("srecord") / "usr/bin/srec_cat"
    folders = [str(one.parent) for one in debian.files("libsrecord0").rglob("libsrecord.so.0")]
    folders += [str(one.parent) for one in debian.files("libgcrypt20").rglob("libgcrypt.so.20")]
    folders += [str(one.parent) for one in debian.files("libgpg-error0").rglob("libgpg-error.so.0")]
    environment = {**os.environ, "LD_LIBRARY_PATH": os.pathsep.join(folders)}
    command = [str(program), *map(str, arguments)]
    try:
        done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60, check=False)
    except OSError as error:
        pytest.skip(f"srec_cat does not run here: {error}")
    if "shared librar" in done.stderr:
        pytest.skip(f"srec_cat does not run here: {done.stderr.strip()}")
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("form", OUT)
@pytest.mark.parametrize("offset", [0, 0x8000, 0x12_3450])
def test_what_srec_cat_writes(tmp_path: Path, form: str, offset: int):
    source, out = tmp_path / "in.bin", tmp_path / "out.txt"
    source.write_bytes(ROM)
    srec_cat(source, "-Binary", "-offset", str(offset), "-o", out, form)
    reading = read(BytesView(out.read_bytes()))
    assert reading.kind == OUT[form]
    # It ends S-records with a count alone.
    assert reading.faults == ()
    assert len(reading.notes) == (form == "-Motorola")
    (part,) = reading.parts
    assert (part.value("first_address"), part.value("size")) == (offset, len(ROM))
    assert part.value("sha256") == hashlib.sha256(ROM).hexdigest()
    assert part.parts[0].kind == "option-rom/legacy-x86"


@pytest.mark.parametrize(("form", "data"), [("-Intel", intel_hex({0: ROM})), ("-Motorola", s_records({0: ROM}))])
def test_srec_cat_reads_ours(tmp_path: Path, form: str, data: bytes):
    source, out = tmp_path / "in.txt", tmp_path / "out.bin"
    source.write_bytes(data)
    srec_cat(source, form, "-o", out, "-Binary")
    assert out.read_bytes() == ROM
