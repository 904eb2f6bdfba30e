"""On the Kits page a kit is judged for the machines of a kept host, or for none told of."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog

from catalogue.shapes.results import FileProblem, HostInfo
from ui import tasks

RACK = HostInfo("Rack nine", "/hosts/rack/host.toml", (), ("Secure Boot on",))
BROKEN = HostInfo("old", "/hosts/old/host.toml", problems=(FileProblem("/hosts/old/host.toml", 3, "is wrong"),))


@pytest.fixture
def kits(world):
    world.hosts = [RACK, BROKEN]
    world.window.resize(1366, 768)
    world.window.show()
    world.window.start()
    world.window.open_page(1)
    world.settle()
    page = world.window.page(1)
    page.list.setFocus()
    QTest.keyClick(page.list, Qt.Key.Key_Down)
    world.settle(lambda: page.kit is not None)
    return world, page


def asked_hosts(world):
    return [one[-1] for one in world.asked if one[0] == "kit"]


def test_a_kept_host_is_offered_and_judged_with(kits, monkeypatch):
    world, page = kits
    seen = []
    real = tasks.kit
    monkeypatch.setattr(tasks, "kit", lambda *a, **k: seen.append(a[-1]) or real(*a, **k))
    assert [page.hosts.itemText(at) for at in range(page.hosts.count())] == [
        "No machine told of",
        "Rack nine",
        "old: its file has an error",
    ]
    page.hosts.setFocus()
    QTest.keyClick(page.hosts, Qt.Key.Key_Down)
    world.settle(lambda: bool(seen))
    assert seen == ["Rack nine"]
    QTest.keyClick(page.hosts, Qt.Key.Key_Up)
    world.settle(lambda: len(seen) > 1)
    assert seen[-1] == ""


def test_a_host_file_is_kept_and_taken(kits, monkeypatch, tmp_path):
    world, page = kits
    kept = HostInfo("New rack", str(tmp_path / "host.toml"))
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *a: (str(tmp_path / "host.toml"), ""))
    monkeypatch.setattr(tasks, "keep_host", lambda file: kept)
    world.hosts = [RACK, kept]
    page.keep_host.click()
    world.settle(lambda: page.hosts.host == "New rack")
    assert page.hosts.count() == 3


def test_a_host_that_cannot_be_kept_is_said(kits, monkeypatch, tmp_path):
    from catalogue.errors import BadCall

    world, page = kits

    def refuse(file):
        raise BadCall("The host file cannot be used: line 3: cpu is wrong.")

    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *a: (str(tmp_path / "host.toml"), ""))
    monkeypatch.setattr(tasks, "keep_host", refuse)
    page.keep_host.click()
    world.settle(lambda: "line 3" in world.window.says.text)
