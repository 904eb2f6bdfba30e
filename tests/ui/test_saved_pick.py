"""On the Kits page a kit is judged with the cards' own saved listings, of each family its own."""

from pathlib import Path

import pytest
from PySide6.QtWidgets import QAbstractButton, QFileDialog

from ui import tasks


@pytest.fixture
def kits(world, monkeypatch):
    """The Kits page on a family, and the listings that each kit was judged with."""
    world.window.resize(1366, 768)
    world.window.show()
    world.window.start()
    world.window.open_page(1)
    world.settle()
    page = world.window.page(1)
    seen = []
    real = tasks.kit
    monkeypatch.setattr(tasks, "kit", lambda *a, saved=(): seen.append(saved) or real(*a, saved=saved))
    page._take("corvane-bittern")
    world.settle(lambda: page.kit is not None)
    return world, page, seen


def test_listings_are_given_and_taken_out(kits, monkeypatch):
    world, page, seen = kits
    assert seen == [()]
    files = (Path("/in/CARD.TXT"), Path("/in/<b>two.txt"))
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *a: ([str(one) for one in files], ""))
    page.saved.add.click()
    world.settle(lambda: len(seen) == 2)
    assert seen[-1] == files
    outs = [one for one in page.saved.findChildren(QAbstractButton) if one.text() == "Take out"]
    assert [one.accessibleName() for one in outs] == [
        "Take out the listing CARD.TXT",
        "Take out the listing <b>two.txt",
    ]
    outs[0].click()
    world.settle(lambda: len(seen) == 3)
    assert seen[-1] == files[1:]


def test_each_family_has_its_own(kits, monkeypatch):
    world, page, seen = kits
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *a: (["/in/CARD.TXT"], ""))
    page.saved.add.click()
    world.settle(lambda: len(seen) == 2)
    page._take("corvane-heron")
    world.settle(lambda: len(seen) == 3)
    assert (seen[-1], page.saved.files) == ((), ())
    page._take("corvane-bittern")
    world.settle(lambda: len(seen) == 4)
    assert seen[-1] == (Path("/in/CARD.TXT"),) == page.saved.files
