"""A packed EFI driver in a catalogue: its claims at the piece name no place in the file, and its bytes can be had."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest

from catalogue.cli import main
from catalogue.errors import BadCall
from catalogue.shapes.as_json import to_json
from catalogue.tasks import index, pieces, show
from catalogue.tasks.context import Context
from tests.formats.build_pe import MadePe, pe
from tests.formats.build_rom import efi, rom
from tests.formats.other_samples import RESOURCES

DRIVER = pe(MadePe(resources=RESOURCES, overlay=b"\0Heron driver 7.11.00\0"))
ROM = rom(efi(compression=1, driver=DRIVER, blocks=6))
NAME = "Heron.zip"


@pytest.fixture
def context(tmp_path: Path) -> Context:
    folder = tmp_path / "in"
    folder.mkdir()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("efi.rom", ROM)
    (folder / NAME).write_bytes(out.getvalue())
    (folder / "efi.rom").write_bytes(ROM)
    made_context = Context(str(tmp_path / "c.sqlite"))
    index.run(made_context, [folder])
    return made_context


def test_claims_at_the_piece_have_no_offset(context: Context):
    (found,) = pieces.run(context, kind="option-rom/efi")
    said = {(one.value, one.source): one.offset for one in found.versions}
    assert said[("12.4.0.7", "VERSIONINFO file version in the unpacked driver")] is None
    assert said[("7.11.00", 'dotted number behind "driver" in the unpacked driver')] is None
    assert set(said.values()) == {None}
    assert len(said) == len(found.versions)


def test_a_damaged_driver_is_named_where_its_packed_bytes_lie(context: Context, tmp_path: Path):
    hurt = tmp_path / "in" / "hurt.rom"
    hurt.write_bytes(rom(efi(compression=1, driver=DRIVER[:-600], blocks=6)))
    faults = show.run(context, str(hurt)).info.faults
    assert {(one.code, one.offset) for one in faults} == {("rom-damaged", 0x80)}


def test_text_is_found_by_a_version_inside(context: Context):
    assert len(pieces.run(context, text="7.11.00")) == 1


@pytest.mark.parametrize("where", ["in/efi.rom", f"in/{NAME} › efi.rom"])
def test_the_driver_s_bytes(where: str, context: Context, tmp_path: Path):
    what = str(tmp_path / where)
    (image,) = show.run(context, what).reading.parts
    assert show.unpacked(context, what, image) == DRIVER
    (driver,) = image.parts
    assert driver.inside == "unpacked"
    for field in driver.fields:
        if isinstance(field.value, int) and field.name != "overlay" and field.offset is not None:
            assert int.from_bytes(DRIVER[field.offset : field.offset + field.length], "little") == field.value


def test_an_image_without_one(context: Context, tmp_path: Path):
    plain = tmp_path / "plain.rom"
    plain.write_bytes(rom(efi(driver=DRIVER, blocks=6)))
    (image,) = show.run(context, str(plain)).reading.parts
    assert show.unpacked(context, str(plain), image) is None


def test_on_the_command_line(context: Context, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["--catalogue", str(context.catalogue), "show", str(tmp_path / "in" / "efi.rom")]) == 0
    assert "offsets count in the unpacked bytes" in capsys.readouterr().out
    (part,) = to_json(show.run(context, str(tmp_path / "in" / "efi.rom")))["reading"]["parts"][0]["parts"]
    assert part["inside"] == "unpacked"


@pytest.mark.parametrize("where", ["in/efi.rom", f"in/{NAME} › efi.rom"])
def test_a_part_s_bytes_by_the_way_to_it(where: str, context: Context, tmp_path: Path):
    what = str(tmp_path / where)
    whole = show.run(context, what).reading
    assert show.part_bytes(context, what, whole, (0, 0)) == DRIVER
    assert show.part_bytes(context, what, whole, (0,)) is None
    assert show.part_bytes(context, what, whole, (4,)) is None


def test_a_member_by_its_name(context: Context, tmp_path: Path):
    archive = show.run(context, str(tmp_path / "in" / NAME)).info.sha256
    assert show.run(context, show.member(context, archive, "efi.rom")).info.size == len(ROM)
    with pytest.raises(BadCall, match="This member is not in the catalogue"):
        show.member(context, archive, "gone.rom")
    with pytest.raises(BadCall, match="The archive is not in the catalogue"):
        show.member(context, "0" * 64, "efi.rom")
