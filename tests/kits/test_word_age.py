"""What has changed since a word was given: each thing alone, all at once, and nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from catalogue.kits.word_age import Now, Then, changes
from tests.kits.world import sha

PIECE, FAMILY = sha("piece"), sha("family")
GIVEN = "2026-03-01T09:00:00+00:00"
THEN = Then(FAMILY, 5, "/in/a.zip › b.rom")
NOW = Now(FAMILY, 5, date(2026, 6, 1), lies_there=PIECE)


def test_nothing_has_changed():
    assert list(changes(PIECE, GIVEN, THEN, NOW)) == []
    assert list(changes(PIECE, GIVEN, replace(THEN, place=""), replace(NOW, lies_there=None))) == []
    assert list(changes(PIECE, GIVEN, THEN, replace(NOW, lies_there=None))) == []


@pytest.mark.parametrize(
    ("then", "now", "said"),
    [
        (THEN, replace(NOW, family_sha256=sha("other")), "The family file has changed since 2026-03-01"),
        (THEN, replace(NOW, family_sha256=sha("other"), accepted="2026-05-04T10:00"), "accepted on 2026-05-04"),
        (replace(THEN, rules=4), NOW, "version 4 then, 5 now"),
        (THEN, replace(NOW, lies_there=sha("new")), f"lie at /in/a.zip › b.rom now (SHA-256 {sha('new')[:12]})"),
        (THEN, replace(NOW, held=False), "lie nowhere in the catalogue"),
        (THEN, replace(NOW, today=date(2027, 3, 2)), "over a year old"),
        (None, NOW, "not on record"),
    ],
)  # fmt: skip
def test_each_change_is_said_alone(then, now, said):
    (only,) = changes(PIECE, GIVEN, then, now)
    assert said in only


def test_a_year_to_the_day_is_not_over_a_year():
    assert list(changes(PIECE, GIVEN, THEN, replace(NOW, today=date(2027, 3, 1)))) == []


def test_all_at_once():
    now = Now(sha("other"), 6, date(2028, 1, 1), "", False, sha("new"))
    assert len(list(changes(PIECE, GIVEN, THEN, now))) == 5


def test_a_day_that_cannot_be_read_is_no_age():
    assert list(changes(PIECE, "long ago", THEN, NOW)) == []
