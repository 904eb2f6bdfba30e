"""The battery itself: readers that break the promise are caught by it."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from catalogue.formats import limits
from catalogue.formats.option_rom import READER
from catalogue.formats.reader import Reader
from catalogue.formats.view import BytesView, View
from catalogue.shapes.reading import CardId, Fault, Field, Reading, Span, VersionClaim
from tests.contracts import battery, test_readers

SOUND = Reading("option-rom", "option-rom", "a title", 0, 100)


def row(change: Callable[[Reading], Reading]) -> Reader:
    """The option ROM reader with its reading changed."""

    def read(view: View) -> Reading | None:
        reading = READER.read(view)
        return None if reading is None else change(reading)

    return replace(READER, read=read)


@pytest.mark.parametrize(
    "bad",
    [
        replace(SOUND, title=""),
        replace(SOUND, fields=(Field("a", 1), Field("a", 2))),
        replace(SOUND, fields=(Field("a b", 1),)),
        replace(SOUND, fields=(Field("a", 1, 99, 2),)),
        replace(SOUND, fields=(Field("a", "x" * (limits.MAX_TEXT + 1)),)),
        replace(SOUND, fields=tuple(Field(f"a{at}", at) for at in range(limits.MAX_FIELDS + 1))),
        replace(SOUND, parts=(SOUND,) * (limits.MAX_PARTS + 1)),
        replace(SOUND, parts=(replace(SOUND, offset=101),)),
        replace(SOUND, versions=(VersionClaim("", "text", 1),)),
        replace(SOUND, versions=(VersionClaim("1.2.3", "text", 100),)),
        replace(SOUND, faults=(Fault("Rom Damaged", "text"),)),
        replace(SOUND, notes=(Fault("rom-odd", "text", 101),)),
        replace(SOUND, spans=(Span("image", 90, 11),)),
        replace(SOUND, spans=(Span("image", 90, -1),)),
        replace(SOUND, ids=(CardId(1, 2, tuple(range(limits.MAX_DEVICES + 1))),)),
        replace(SOUND, inside="packed"),
    ],
    ids=lambda bad: repr(bad)[:80],
)
def test_a_reading_that_breaks_a_bound_is_caught(bad: Reading):
    with pytest.raises(AssertionError):
        battery.examine(bad, 100)


def test_a_sound_reading_is_not():
    battery.examine(SOUND, 100)
    battery.examine(replace(SOUND, inside="unpacked", fields=(Field("a", 1, 5000, 2),)), 100)


def test_endless_nesting_is_caught():
    deep = SOUND
    for _ in range(battery.MOST_DEPTH + 1):
        deep = replace(SOUND, parts=(deep,))
    with pytest.raises(AssertionError):
        battery.examine(deep, 100)


def test_a_kind_not_declared_is_caught():
    with pytest.raises(AssertionError):
        test_readers.test_samples_are_read(row(lambda reading: replace(reading, kind="text")))


def test_an_exception_is_caught():
    def read(view: View) -> Reading | None:
        if len(view.at(0x14, 1)) == 0:
            raise KeyError("cut short")
        return READER.read(view)

    with pytest.raises(KeyError):
        test_readers.test_prefixes(replace(READER, read=read))


def test_a_swallowed_error_is_caught():
    def read(view: View) -> Reading | None:
        try:
            return READER.read(view)
        except OSError:
            return None

    with pytest.raises(AssertionError, match="swallowed"):
        test_readers.test_failing_view(replace(READER, read=read))


def test_an_error_of_its_own_is_caught():
    def read(view: View) -> Reading | None:
        try:
            return READER.read(view)
        except OSError:
            raise OSError(5, "mine") from None

    with pytest.raises(AssertionError):
        test_readers.test_failing_view(replace(READER, read=read))


def test_greed_is_caught():
    def read(view: View) -> Reading | None:
        for _ in range(200):
            view.at(0, view.size)
        return READER.read(view)

    with pytest.raises(AssertionError):
        test_readers.test_few_bytes_are_asked_for(replace(READER, read=read))


def test_mutants_are_the_same_every_time_and_differ():
    first = list(battery.mutants(READER, 300))
    assert first == list(battery.mutants(READER, 300))
    assert len(set(first)) > 290
    assert not {one.data for one in battery.samples_of(READER)} & set(first)


def test_the_enormous_view():
    view = battery.EnormousView(b"abc", 1 << 40, True)
    assert view.at(2, 5) == b"cabca"
    assert view.at(1 << 40, 1) == b""
    assert battery.EnormousView(b"abc", 1 << 40, False).at(1, 4) == b"bc\0\0"
    assert BytesView(b"abc").at(-1, 2) == b""
