"""The table's order is its precedence, and it always answers."""


import pytest

from catalogue import formats
from catalogue.formats.reader import Looks, Reader
from catalogue.formats.view import BytesView, View
from catalogue.shapes.reading import Reading
from tests.contracts.battery import mutants, samples_of


def row(name: str, looks: Looks, answers: bool = True, first: tuple[bytes, ...] = ()) -> Reader:
    def read(view: View) -> Reading | None:
        return Reading(name, name, name) if answers else None

    return Reader(name, (name,), lambda view: looks, read, 1, "none", "none", first)


SURE, MAYBE, NO = Looks.SURE, Looks.MAYBE, Looks.NO


@pytest.mark.parametrize(
    ("rows", "answer"),
    [
        ([row("a", MAYBE), row("b", SURE), row("c", SURE)], "b"),
        ([row("a", NO), row("b", MAYBE), row("c", MAYBE)], "b"),
        ([row("a", SURE, answers=False), row("b", MAYBE)], "b"),
        ([row("a", MAYBE, answers=False), row("b", MAYBE)], "b"),
        ([row("a", SURE, first=(b"PK",)), row("b", MAYBE)], "b"),
        ([row("a", SURE, first=(b"PK", b"MZ")), row("b", MAYBE)], "a"),
        ([row("a", MAYBE, answers=False), row("b", NO)], "opaque"),
        ([], "opaque"),
    ],
)
def test_precedence(rows: list[Reader], answer: str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(formats, "_rows", lambda head: tuple(rows))
    reading = formats.read(BytesView(b"MZ..."))
    assert reading.format == answer


def test_whatever_no_other_knows_is_opaque():
    assert formats.READERS[-1].name == "opaque"
    assert formats.read(BytesView(b"\x01\x02\x03")).kind == "opaque"


def plainly(data: bytes) -> Reading:
    """What the table says when every row looks, with no look spared."""
    view = BytesView(data)
    looks = [(row, row.looks_like(view)) for row in formats.READERS]
    for level in (SURE, MAYBE):
        for one, look in looks:
            answer = one.read(view) if look is level else None
            if answer is not None:
                return answer
    raise AssertionError("the last row takes whatever no other knows")


@pytest.mark.parametrize("one", formats.READERS, ids=lambda one: one.name)
def test_a_spared_look_changes_no_answer(one: Reader):
    """`first` and `text` only save time."""
    for sample in samples_of(one):
        assert formats.read(BytesView(sample.data)) == plainly(sample.data), sample
        assert formats.read(BytesView(sample.data[:7])) == plainly(sample.data[:7]), sample
    for data in mutants(one, 150):
        assert formats.read(BytesView(data)) == plainly(data)


def test_a_family_can_ask_for_what_is_read():
    """Every kind of the table can stand in a family file, but archives, reserved code types and signatures."""
    from catalogue.families.kinds import KINDS

    left = ("archive/", "signature", "option-rom/pa-risc", "option-rom/reserved")
    kinds = {kind for row in formats.READERS for kind in row.kinds if not kind.startswith(left)}
    assert kinds <= set(KINDS), kinds - set(KINDS)
