"""Bounds of `formats.limits` that no reader's own tests reach, each set low or met in full."""

from __future__ import annotations

import pytest

from catalogue import formats
from catalogue.formats import (
    archive_items,
    device_tree,
    device_tree_nodes,
    ffs_file,
    firmware_volume,
    iso_record,
    limits,
    openpgp_signature,
    pe_signature,
    section_packing,
    seven_zip_branches,
    seven_zip_header,
    signed_data,
    uefi_compression,
    volume_header,
    vpd,
)
from catalogue.formats.reader import Looks
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats import build_7z, build_detached, build_volume
from tests.formats.build_signature import CHAIN, Made
from tests.formats.build_tree import card_tree
from tests.formats.build_uefi_stream import pack
from tests.formats.build_vpd import keyword
from tests.formats.build_vpd import vpd as made_vpd
from tests.formats.test_pe_signature import OTHER, build, digest_by_hand, entry, signature, signed_pe, with_table

Patch = pytest.MonkeyPatch


def read(data: bytes) -> Reading:
    return formats.read(BytesView(data))


def codes(reading: Reading) -> list[str]:
    parts = [one for part in reading.parts for one in codes(part)]
    return [one.code for one in (*reading.faults, *reading.notes)] + parts


def test_symbols_of_a_compressed_driver(monkeypatch: Patch):
    data = pack(bytes(range(256)) * 40)
    assert uefi_compression.unpack(data).data is not None
    monkeypatch.setattr(uefi_compression, "MAX_UNPACK_FREE_WORK", 20)
    monkeypatch.setattr(uefi_compression, "MAX_UNPACK_WORK", 0)
    done = uefi_compression.unpack(data)
    assert done.data is None
    assert done.why
    assert not done.damaged, "too much work is no damage"


def test_bytes_of_a_certificate_table(monkeypatch: Patch):
    data = signed_pe()
    monkeypatch.setattr(pe_signature, "MAX_SIGNATURE_BYTES", 64)
    reading = read(data)
    assert "too-many" in codes(reading)
    assert any("64 bytes were read" in one.text for one in reading.notes)


def test_signers_and_certificates_of_one_signature(monkeypatch: Patch):
    data = build()
    both = Made(certificates=(*CHAIN, OTHER.der))
    raw = signature(digest_by_hand(data), both, Made(OTHER))
    monkeypatch.setattr(signed_data, "MAX_SIGNERS", 1)
    found = signed_data.read_signed_data(raw, 0, len(raw))
    assert (len(found.signers), found.left_out) == (1, 1)
    monkeypatch.setattr(signed_data, "MAX_CERTIFICATES", 2)
    found = signed_data.read_signed_data(raw, 0, len(raw))
    assert (len(found.certificates), found.left_out) == (2, 3)
    assert "too-many" in codes(read(with_table(data, entry(raw))))


def test_places_where_a_volume_seems_to_begin(monkeypatch: Patch):
    lure = (bytes(40) + b"_FVH").ljust(64, b"\0")
    data = build_volume.volume() + lure * 5 + build_volume.volume()
    reading = firmware_volume.read(BytesView(data))
    assert reading is not None
    assert len(reading.parts) == 2
    monkeypatch.setattr(firmware_volume, "MAX_VOLUME_TRIES", 5)
    reading = firmware_volume.read(BytesView(data))
    assert reading is not None
    assert len(reading.parts) == 1


def test_faults_of_a_volume(monkeypatch: Patch):
    bad = tuple(build_volume.File(build_volume.name("x"), number=at, data_sum=1) for at in range(1, 9))
    data = build_volume.volume(build_volume.Made(bad))
    many = codes(read(data)).count("volume-damaged")
    for module in (ffs_file, firmware_volume):
        monkeypatch.setattr(module, "MAX_VOLUME_FAULTS", 2)
    assert many > codes(read(data)).count("volume-damaged") > 0


def test_entries_of_a_block_map(monkeypatch: Patch):
    monkeypatch.setattr(volume_header, "MAX_BLOCK_MAP", 0)
    reading = read(build_volume.volume())
    (volume,) = reading.parts
    assert volume.value("block_map") == ()
    assert not volume.faults, "all of the map counts, however much of it is shown"


def test_bytes_of_an_lzma_section(monkeypatch: Patch):
    data = build_volume.volume(
        build_volume.Made((build_volume.File(build_volume.lzma_section(build_volume.name("Heron"))),))
    )
    assert not codes(read(data))
    monkeypatch.setattr(section_packing, "MAX_SECTION_UNPACKED", 4)
    assert set(codes(read(data))) == {"volume-unread"}


def test_bytes_of_product_data(monkeypatch: Patch):
    data = made_vpd()
    monkeypatch.setattr(vpd, "MAX_VPD_BYTES", len(data))
    assert vpd.looks_like(BytesView(data)) is Looks.MAYBE
    monkeypatch.setattr(vpd, "MAX_VPD_BYTES", len(data) - 1)
    assert vpd.looks_like(BytesView(data)) is Looks.NO


def test_fields_of_one_reading():
    """PCI 2.2, appendix I: a keyword is two letters, so one card may have hundreds."""
    names = [a + b for a in "ABCDEFGHIJKLMNOPQRSTUWXZ" for b in "0123456789ABCDEFGHIJKLMNOPQRST"]
    assert len(names) > limits.MAX_FIELDS + 100
    more = b"".join(keyword("V" + name[0], b"x") + keyword(name, b"y") for name in names)
    reading = vpd.read(BytesView(made_vpd(more=more, writable=b"")))
    assert reading is not None
    assert len(reading.fields) <= limits.MAX_FIELDS


def test_characters_of_one_value():
    reading = vpd.read(BytesView(made_vpd(name=b"A" * (2 * limits.MAX_TEXT))))
    assert reading is not None
    assert len(str(reading.value("identifier"))) == limits.MAX_TEXT


def test_bytes_of_a_detached_signature(monkeypatch: Patch):
    data = build_detached.packet(build_detached.body())
    assert openpgp_signature.looks_like(BytesView(data)) is Looks.MAYBE
    monkeypatch.setattr(openpgp_signature, "MAX_DETACHED_BYTES", len(data) - 1)
    assert openpgp_signature.looks_like(BytesView(data)) is Looks.NO


def test_bytes_of_a_device_tree(monkeypatch: Patch):
    data = card_tree()
    assert read(data).value("nodes") == 3
    monkeypatch.setattr(device_tree, "MAX_TREE_BYTES", 60)
    assert not read(data).value("nodes")


def test_bytes_of_its_names(monkeypatch: Patch):
    data = card_tree()
    assert read(data).title == "Device tree: Corvane Heron"
    monkeypatch.setattr(device_tree_nodes, "MAX_TREE_STRINGS", 2)
    assert read(data).title != "Device tree: Corvane Heron"


@pytest.mark.parametrize("cap", ["MAX_BLOCKS", "MAX_CODERS"])
def test_blocks_and_coders_of_a_7z(cap: str, monkeypatch: Patch):
    data = build_7z.archive(build_7z.File("a.bin", b"firmware" * 90))
    assert not read(data).faults
    monkeypatch.setattr(seven_zip_header, cap, 0)
    reading = read(data)
    assert reading.faults
    assert not reading.members


def test_bytes_passed_over():
    budget = archive_items.SkipBudget(1 << 50)
    budget.spend(limits.MAX_SKIPPED)
    with pytest.raises(archive_items.Unreadable, match="more packed bytes than are passed over"):
        budget.spend(1)


class _Counting(BytesView):
    asked = 0

    def at(self, offset: int, length: int) -> bytes:
        self.asked += 1
        return super().at(offset, length)


def test_continuation_areas_that_go_round_in_a_circle():
    """SUSP 1.12, 5.1: an area whose only entry continues in itself."""
    both = [(0).to_bytes(4, "little") + (0).to_bytes(4, "big"), bytes(8), (28).to_bytes(4, "little") + bytes(4)]
    circle = b"CE\x1c\x01" + b"".join(both)
    view = _Counting(circle)
    one = iso_record.Record(0, 0, 0, 0, interleaved=False, agrees=True, name=b"A", system_use=circle)
    found = iso_record.added(view, one, 0, 2_048)
    assert view.asked == limits.MAX_CONTINUATIONS
    assert "more continued system use fields" in found.fault


def test_branches_of_a_7z_block(monkeypatch: Patch):
    code = b"\xe9" * 64

    def run() -> bytes:
        inputs = [iter((one,)) for one in (code, bytes(400), bytes(400), bytes(400))]
        return b"".join(seven_zip_branches.unbranched(inputs, len(code)))

    assert run()
    monkeypatch.setattr(seven_zip_branches, "MAX_BRANCHES_FREE", 8)
    monkeypatch.setattr(seven_zip_branches, "BRANCH_BYTES", 1 << 20)
    with pytest.raises(archive_items.Unreadable, match="more branches than code has"):
        run()
