"""The kit id moves with all that the judgement rests on, and with nothing else."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from catalogue.kits import kit_id
from catalogue.kits.kit_rules import KIT_RULES
from catalogue.kits.piece_rules import PIECE_RULES
from catalogue.shapes.kit import Pin
from catalogue.shapes.piece import Place
from tests.kits.plants import alone, firmware_that_nobody_names
from tests.kits.world import bittern, sha

RULES_BY_VERSION = {1: 43, 2: 54, 3: 54, 4: 54, 5: 54, 6: 54}
"""How many rules each version of the rules has: a rule added or taken away is another version, and one
that judges otherwise too."""


def test_a_new_set_of_rules_has_a_new_version():
    assert RULES_BY_VERSION[kit_id.RULES_VERSION] == len(PIECE_RULES) + len(KIT_RULES)


def test_the_id_is_a_sha256():
    kit = bittern().judge()
    assert len(kit.id) == 64
    assert set(kit.id) <= set("0123456789abcdef")


def changes():
    def file(scene):
        scene.edit(sha256=sha("edited"))

    def route(scene):
        scene.edit_route(id="another")

    def pieces(scene):
        del scene.pieces["ub"]

    def pin(scene):
        scene.pin("firmware", sha("fw-12"))

    def companion(scene):
        other = replace(scene.pieces["writer"].beside[0], sha256=sha("extender 2"))
        scene.change("writer", beside=(other,))

    return [file, route, pieces, pin, companion]


@pytest.mark.parametrize("change", changes(), ids=lambda change: change.__name__)
def test_what_moves_the_id(change):
    scene = bittern()
    before = scene.judge().id
    change(scene)
    assert scene.judge().id != before


def test_the_rules_version_moves_the_id(monkeypatch):
    before = bittern().judge().id
    monkeypatch.setattr(kit_id, "RULES_VERSION", 0)
    assert bittern().judge().id != before


def test_words_move_the_id_where_they_count():
    scene = alone()
    firmware_that_nobody_names(scene)
    before = scene.judge().id
    scene.word("unvouched", sha("another piece"))
    assert scene.judge().id == before
    scene.word("unvouched", sha("fw-12"))
    assert scene.judge().id != before


def test_what_leaves_the_id_alone():
    scene = bittern()
    before = scene.judge().id
    scene.today = date(2030, 1, 1)
    scene.change("fw", places=(Place("/elsewhere/x.bin"),))
    scene.route_ran = False
    assert scene.judge().id == before


def test_the_order_of_pins_leaves_the_id_alone():
    one, two = bittern(), bittern()
    pins = [Pin("firmware", sha("fw-12"), "a"), Pin("writer", sha("writer-312"), "b")]
    one.pins, two.pins = pins, pins[::-1]
    assert one.judge() == two.judge()
