"""Each trap of tests/fuzz/traps.py, through the whole table and through the containers as intake opens them."""

from __future__ import annotations

import gzip
import subprocess

import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from catalogue.intake import archives, bounds, containers
from catalogue.store.found import MemberFound
from tests.fuzz import promise, targets, traps

TARGETS = targets.every()
REFUSED = {"disk_holds_itself", "ar_long"}
"""Traps that no reader takes for what they pretend to be, which is an answer too."""
MEMBERS_A_SECOND = 1_000
"""An archive costs 1 s a MiB of what it unpacks to, or so many members a second, whichever is more."""
TRAP = pytest.mark.parametrize("name", traps.TRAPS)


@TRAP
def test_the_whole_table(name: str):
    assert promise.hold(TARGETS["table"].run, traps.TRAPS[name]()) is None


@TRAP
def test_opened(name: str):
    data = traps.TRAPS[name]()
    # A bomb's own length says nothing: what it unpacks to is bounded, and counts.
    road, _, _ = opened(data)
    spent = max(1.0, road.unpacked / (1 << 20), road.members / MEMBERS_A_SECOND)
    assert promise.hold(TARGETS["opened zip"].run, data, slow=spent) is None


def test_members_without_number_end_soon():
    road, _, _ = opened(traps.zip_of_zips_sharing())
    assert bounds.FREE_MEMBERS < road.weight <= bounds.FREE_MEMBERS + bounds.DEEP_MEMBERS
    assert road.members < road.weight
    assert "than its size explains" in road.over


def opened(data: bytes) -> tuple[archives.Road, list[MemberFound], str]:
    reading = formats.read(BytesView(data))
    road = archives.Road(len(data), lambda: False)
    if not containers.is_archive(reading):
        return road, [], ""
    return road, *archives.open_archive(BytesView(data), reading, road, "trap")


def every(members: list[MemberFound], depth: int = 1) -> list[tuple[int, MemberFound]]:
    out = []
    for one in members:
        out.append((depth, one))
        if one.piece is not None and one.piece.members:
            out += every(one.piece.members, depth + 1)
    return out


@pytest.mark.parametrize("name", sorted(traps.TRAPS.keys() - REFUSED))
def test_a_trap_is_what_it_pretends_to_be(name: str):
    """Else it would be refused at the door, and show nothing."""
    assert formats.known(BytesView(traps.TRAPS[name]())) is not None


@pytest.mark.outside
def test_what_unpacks_to_itself_does_so_for_gzip():
    """GNU gzip, and the standard library's module."""
    whole = traps.gzip_unpacks_to_itself()
    assert gzip.decompress(whole) == whole
    assert subprocess.run(["gzip", "-dc"], input=whole, capture_output=True, check=True).stdout == whole


@pytest.mark.parametrize("name", ["iso_holds_itself", "gzip_unpacks_to_itself"])
def test_an_image_that_holds_itself_is_opened_so_deep_and_no_deeper(name: str):
    _, members, _ = opened(traps.TRAPS[name]())
    found = every(members)
    assert [depth for depth, _ in found] == list(range(1, bounds.MAX_DEPTH + 1))
    digests = {one.piece.sha256 for _, one in found if one.piece is not None}
    assert len(digests) == 1, "it is the same image each time"
    assert found[-1][1].fault == archives.NOT_OPENED


@pytest.mark.parametrize("name", ["zips_200_deep", "gzips_in_gzips", "zip_of_zips_sharing"])
def test_what_lies_deeper_than_the_bound_is_not_opened_and_said(name: str):
    _, members, _ = opened(traps.TRAPS[name]())
    found = every(members)
    assert max(depth for depth, _ in found) <= bounds.MAX_DEPTH
    if name != "zip_of_zips_sharing":
        assert any(one.fault == archives.NOT_OPENED for _, one in found)


@pytest.mark.parametrize(
    "name", ["iso_folder_in_itself", "iso_folders_in_a_ring", "fat_folder_in_itself", "udf_folder_in_itself"]
)
def test_folders_in_themselves_end(name: str):
    _, members, why = opened(traps.TRAPS[name]())
    assert len(members) < 100
    reading = formats.read(BytesView(traps.TRAPS[name]()))
    assert why or reading.faults, "the ring is told of"


@pytest.mark.parametrize(
    "name",
    ["fat_chain_in_a_ring", "iso_4_gib", "zip_4_gib", "tar_2_to_the_80", "zip_overlaps", "zip_member_is_its_directory"],
)
def test_a_false_size_is_told_and_gives_no_piece(name: str):
    """4 GiB, more than there is, or bytes that are another's: never a piece of bytes that are not there."""
    data = traps.TRAPS[name]()
    reading = formats.read(BytesView(data))
    _, members, why = opened(data)
    assert why or reading.faults or any(one.fault for one in members)
    for one in members:
        assert one.piece is None or one.piece.size <= len(data) or one.fault


@pytest.mark.parametrize("name", ["package_component_is_the_package", "capsule_items_overlap", "volumes_40_deep"])
def test_what_names_itself_is_read_a_bounded_number_of_times(name: str):
    class Counting:
        def __init__(self, data: bytes) -> None:
            self.under, self.size, self.given = BytesView(data), len(data), 0

        def at(self, offset: int, length: int) -> bytes:
            out = self.under.at(offset, length)
            self.given += len(out)
            return out

    view = Counting(traps.TRAPS[name]())
    formats.read(view)
    assert view.given <= 100 * view.size + (4 << 20)
