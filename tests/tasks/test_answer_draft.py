"""From a known-good folder to a settled family: drafted, every question answered, proved, accepted.

The answers are those that the shipped family file gives; nothing else of that file is used. Forty answers, each
proved by reading the file again, take some seconds.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from catalogue.families.drafting import answers
from catalogue.families.drafting.questions import asked
from catalogue.tasks import accept_family, index
from catalogue.tasks.context import Context
from sample_bundles import bittern, heron, plover
from tests.reference import draft_recovery
from tests.reference.draft_answers import truth


@pytest.mark.parametrize("family", [bittern.FAMILY, heron.FAMILY])
def test_a_draft_with_every_question_answered_settles(family: str, tmp_path: Path) -> None:
    text = draft_recovery.drafted(family, tmp_path, papers=True).text
    told = tomllib.loads(draft_recovery.shipped(family))
    context = Context(str(tmp_path / "catalogue.sqlite"))
    file = tmp_path / "mine.toml"
    for _ in range(200):
        questions = asked(text)
        if not questions:
            break
        file.write_text(text, encoding="utf-8")
        before = text
        text = answers.answer(text, questions[0].key, truth(family, questions[0].key, told))
        assert len(asked(text)) < len(questions)
        lost = [row for row in before.splitlines() if row.lstrip().startswith("#") and row not in text.splitlines()]
        assert len(lost) <= 3 or questions[0].key in ("mode-names", "direction"), lost
    file.write_text(text, encoding="utf-8")
    stop = "other-mode"
    if family == heron.FAMILY:  # its bundles hold no ROM of the other mode: another card's must do
        assert "no counter-example" in accept_family.run(context, file).problems[0].text
        (tmp_path / "plover.rom").write_bytes(plover.ROM.data)
        index.run(context, [tmp_path / "plover.rom"])
        stop = "other-family"
    done = accept_family.run(context, file)
    assert done.settled, "\n".join(f"{one.line}: {one.text}" for one in done.problems) + text
    assert done.proof is not None
    assert all(one.stops[0] == stop for one in done.proof.counters)
    assert done.proof.counters
