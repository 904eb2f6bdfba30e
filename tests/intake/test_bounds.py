"""Bounds of `intake.bounds` that no other test reaches."""

from __future__ import annotations

import io
import threading
import zipfile

import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from catalogue.intake import archives, bounds
from catalogue.store.found import MemberFound

BODY = b"firmware \0" + bytes(range(256)) * 40


def zipped(name: str, data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr(name, data)
    return out.getvalue()


def opened(data: bytes) -> list[MemberFound]:
    view = BytesView(data)
    road = archives.Road(len(data), lambda: False)
    members, why = archives.open_archive(view, formats.read(view), road, "a.zip")
    assert not why
    assert road.held == 0
    return members


def test_bytes_held_on_one_road(monkeypatch: pytest.MonkeyPatch):
    """The inner archive is held while its member would be; together they are too much, so the member is hashed only."""
    inner = zipped("fw.bin", BODY)
    monkeypatch.setattr(bounds, "MAX_HELD_BYTES", len(inner) + len(BODY))
    (outer,) = opened(zipped("in.zip", inner + bytes(0)))
    assert outer.piece is not None
    assert outer.piece.members is not None
    assert outer.piece.members[0].piece is not None
    assert outer.piece.members[0].piece.reading.title != "Too large to be read inside an archive"
    monkeypatch.setattr(bounds, "MAX_HELD_BYTES", len(inner) + len(BODY) - 1)
    (outer,) = opened(zipped("in.zip", inner))
    assert outer.piece is not None
    assert outer.piece.members is not None
    held = outer.piece.members[0].piece
    assert held is not None
    assert held.size == len(BODY)
    assert held.reading.title == "Too large to be read inside an archive"


class _Lock:
    """Counts how often it was taken."""

    def __init__(self) -> None:
        self.taken = 0
        self.lock = threading.RLock()

    def __enter__(self) -> None:
        self.taken += 1
        self.lock.acquire()

    def __exit__(self, *error: object) -> None:
        self.lock.release()


@pytest.mark.parametrize(("over", "times"), [(0, 0), (-1, 1)])
def test_big_members_one_at_a_time(over: int, times: int, monkeypatch: pytest.MonkeyPatch):
    lock = _Lock()
    monkeypatch.setattr(archives, "_ONE_AT_A_TIME", lock)
    monkeypatch.setattr(bounds, "BIG_MEMBER", len(BODY) + over)
    (one,) = opened(zipped("fw.bin", BODY))
    assert one.piece is not None
    assert lock.taken == times
