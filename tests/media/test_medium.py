"""Facts of a medium: its room, what starts by itself, what a system leaves."""

from __future__ import annotations

import os
from collections import namedtuple

import pytest

from catalogue.media import medium
from catalogue.media.disk import Entry, listing
from catalogue.media.medium import is_litter, root_entries, space, starters

Volume = namedtuple("Volume", "f_frsize f_bsize f_blocks f_bavail f_files f_favail")


def on(monkeypatch, volume, fat=True, mount=True):
    monkeypatch.setattr(os, "statvfs", lambda path: volume)
    monkeypatch.setattr(medium, "_is_fat", lambda path: fat)
    monkeypatch.setattr("pathlib.Path.is_mount", lambda path: mount)


def test_room_is_counted_in_clusters(monkeypatch, tmp_path):
    on(monkeypatch, Volume(16384, 16384, 70_000, 10, 0, 0))
    made = space(tmp_path, ())
    assert (made.free, made.cluster, made.fat, made.root_left, made.files_left) == (163_840, 16384, True, None, None)


@pytest.mark.parametrize(
    ("clusters", "cluster", "usual"), [(713, 512, 112), (2_847, 512, 224), (60_000, 2_048, 512), (65_524, 32_768, 512)]
)
def test_a_fat12_or_fat16_root_has_its_usual_number_of_entries(monkeypatch, tmp_path, clusters, cluster, usual):
    on(monkeypatch, Volume(cluster, cluster, clusters, 10, 0, 0))
    root = (Entry("A.BIN", "file"), Entry("a long name of 27 characters", "file"))
    assert space(tmp_path, root).root_left == usual - 1 - 1 - 4


def test_a_fuller_root_than_usual_is_evidently_larger(monkeypatch, tmp_path):
    on(monkeypatch, Volume(2_048, 2_048, 60_000, 10, 0, 0))
    assert space(tmp_path, tuple(Entry(f"{n}", "file") for n in range(600))).root_left is None


def test_a_folder_inside_a_volume_and_a_fat32_root_have_no_such_bound(monkeypatch, tmp_path):
    on(monkeypatch, Volume(2_048, 2_048, 60_000, 10, 0, 0), mount=False)
    assert space(tmp_path, ()).root_left is None
    on(monkeypatch, Volume(2_048, 2_048, 65_525, 10, 0, 0))
    assert space(tmp_path, ()).root_left is None


def test_a_volume_that_gives_no_size_is_not_called_full(monkeypatch, tmp_path):
    on(monkeypatch, Volume(4_096, 4_096, 0, 0, 0, 0))
    assert space(tmp_path, ()).free is None


def test_the_real_volume_answers_and_a_system_without_statvfs_falls_back(monkeypatch, tmp_path):
    facts = os.statvfs(tmp_path)
    assert space(tmp_path, ()).free == pytest.approx(facts.f_bavail * facts.f_frsize, rel=0.2)
    monkeypatch.delattr(os, "statvfs")
    monkeypatch.setattr("shutil.disk_usage", lambda path: namedtuple("Usage", "free")(77))
    assert space(tmp_path, ()).free == 77


@pytest.mark.parametrize(
    ("name", "entries"),
    [("KIT.JSN", 1), ("BITT-7F3", 1), ("kit.jsn", 2), ("a" * 13, 2), ("a" * 14, 3), ("TOOLONGNAME12.BIN", 3)],
)
def test_entries_that_a_name_takes_in_a_folder(name, entries):
    """Checked by hand against the FAT specification: 13 UTF-16 units a long-name entry."""
    assert root_entries(name) == entries


def test_starting_files_are_read_bounded_and_in_either_encoding(tmp_path):
    (tmp_path / "Startup.nsh").write_bytes("quay.efi\r\nexit\r\n".encode("utf-16"))
    (tmp_path / "AUTOEXEC.BAT").write_bytes(b"\xff\x00QUAY\r\n" * 3)
    (tmp_path / "CONFIG.SYS").symlink_to("AUTOEXEC.BAT")
    (tmp_path / "OTHER.BAT").write_bytes(b"x")
    found = {one.name: one.lines for one in starters(tmp_path, listing(tmp_path)[0])}
    assert found["Startup.nsh"] == ("quay.efi", "exit")
    assert len(found["AUTOEXEC.BAT"]) == 3
    assert set(found) == {"Startup.nsh", "AUTOEXEC.BAT"}


@pytest.mark.parametrize("name", ["System Volume Information", ".Trash-1000", "._KIT.JSN", "Thumbs.db", "FSCK0001.REC"])
def test_litter(name):
    assert is_litter(Entry(name, "file"))


@pytest.mark.parametrize("name", ["FW.BIN", "FSCKX.REC", "trash", "FOUND.BIN"])
def test_no_litter(name):
    assert not is_litter(Entry(name, "file"))


def test_boot_files_of_a_volumes_root(monkeypatch, tmp_path):
    monkeypatch.setattr("pathlib.Path.is_mount", lambda path: True)
    inner = tmp_path / "efi" / "Boot"
    inner.mkdir(parents=True)
    (inner / "bootx64.efi").write_bytes(b"MZ")
    (inner / "other.efi").write_bytes(b"MZ")
    (tmp_path / "kernel.sys").write_bytes(b"K")
    entries, _more = listing(tmp_path)
    assert medium.boot(tmp_path, entries, 0x8664) == medium.Boot(("KERNEL.SYS", "EFI/BOOT/BOOTX64.EFI"), 0x8664)


def test_no_boot_files_and_a_link_in_their_stead(monkeypatch, tmp_path):
    monkeypatch.setattr("pathlib.Path.is_mount", lambda path: True)
    (tmp_path / "EFI").mkdir()
    (tmp_path / "IO.SYS").mkdir()
    assert medium.boot(tmp_path, listing(tmp_path)[0], None) == medium.Boot(())


def test_a_folder_within_a_volume_is_not_started_from(tmp_path):
    assert medium.boot(tmp_path, listing(tmp_path)[0], 0x8664) is None
