"""A finished draft is checked without a trace, and kept among the user's families only when it settles."""

from __future__ import annotations

from pathlib import Path

import pytest

from catalogue.errors import BadCall
from catalogue.shapes.progress import Quiet
from catalogue.tasks import families, finish_draft, settings
from catalogue.tasks.context import Context
from sample_bundles import bittern
from tests.tasks.test_prove_draft import CUT, drafted


@pytest.fixture
def context(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Context:
    monkeypatch.setattr(settings, "user_families", lambda: tmp_path / "data" / "families")
    return Context(str(tmp_path / "catalogue.sqlite"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "good"
    made.mkdir()
    (made / "bundle.zip").write_bytes(bittern.release_twelve().data)
    return made


def known(context: Context) -> dict[str, bool]:
    return {one.id: one.settled for one in families.run(context)}


def test_a_check_leaves_no_trace(context: Context, folder: Path) -> None:
    text = drafted(folder).read_text(encoding="utf-8")
    done = finish_draft.check(context, text, Quiet())
    assert done.problems == ()
    assert not done.settled
    assert "my-bittern" not in known(context)
    assert finish_draft.check(context, drafted(folder, CUT).read_text(encoding="utf-8"), Quiet()).problems


def test_what_settles_is_kept_and_known(context: Context, folder: Path) -> None:
    text = drafted(folder).read_text(encoding="utf-8")
    done, file = finish_draft.keep(context, text, "mine", Quiet())
    assert done.settled
    assert file.read_text(encoding="utf-8") == text
    assert known(context)["my-bittern"]
    for name in ("mine", "second", "../out", "", "a" * 60):
        with pytest.raises(BadCall):
            finish_draft.keep(context, text, name, Quiet())
    assert [one.name for one in file.parent.iterdir()] == ["mine.toml"]


def test_what_does_not_settle_is_not_kept(context: Context, folder: Path) -> None:
    text = drafted(folder, CUT).read_text(encoding="utf-8")
    done, file = finish_draft.keep(context, text, "mine", Quiet())
    assert done.problems
    assert not file.exists()


def test_questions_are_asked_and_answered(context: Context) -> None:
    text = 'schema = 1\nasks = ["flash"]\n[card]\n# ask: flash: how large?\n'
    (one,) = finish_draft.asked(text)
    assert (one.key, one.about, one.form) == ("flash", "how large?", "line")
    assert finish_draft.answer(text, "flash", "8").count("flash = 8") == 1
