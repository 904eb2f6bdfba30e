"""From a known-good folder to a settled family: drafted, every question answered, proved, accepted.

The answers are those that the shipped family file gives; nothing else of that file is used. Forty answers, each
proved by reading the file again, take some seconds.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest

from catalogue.families.drafting import answers
from catalogue.families.drafting.questions import asked
from catalogue.tasks import accept_family, index
from catalogue.tasks.context import Context
from sample_bundles import bittern, heron, plover
from tests.reference import draft_recovery

Tree = dict[str, object]
NAMES = {bittern.FAMILY: {"id-f234-0c80": "raid", "id-f234-0c81": "pass"},
         heron.FAMILY: {"id-f234-0a60": "raid", "id-f234-0a61": "pass"}}  # fmt: skip


def effects(step: Tree) -> dict[str, str]:
    """One step of a family file as the answer to what its line does."""
    out = {"say": str(step["say"])}
    for word in ("learns", "saves", "destroys", "writes", "checks", "compares"):
        if word in step:
            out[word] = ", ".join(step[word])
    if "then" in step:
        out["then"] = str(step["then"])
    for key, one in step.get("expects", {}).items():
        out[key] = ", ".join(one) if isinstance(one, list) else str(one).lower() if isinstance(one, bool) else str(one)
    return out


def truth(family: str, key: str, told: Tree) -> str | Mapping[str, str] | None:
    """What the shipped file answers."""
    if key == "title":
        return {"title": str(told["title"]), "id": f"my-{family}"}
    if key == "flash":
        return str(told["card"]["flash"])
    if key == "mode-names":
        return NAMES[family]
    if key == "direction":
        return {"from": "raid", "to": "pass"}
    if key == "state":
        state = told["state"]["bare"]
        at = [one["name"] for one in told["route"][0]["step"]].index(state["after"])
        return {"name": "bare", "ids": state["ids"][0], "after": f"step-{at + 1}"}
    if key == "span-sas":
        return str(told["identity"]["sas"].get("span", 1))
    if key == "has-firmware":
        return dict(told["role"]["firmware"]["has"])
    if key == "size-firmware":
        return dict(zip(("least", "most"), map(str, told["role"]["firmware"]["size"]), strict=True))
    if key == "lowest-firmware":
        return str(told["role"]["firmware"]["lowest"])
    if key == "withdrawn":
        one = told["withdrawn"][0]
        return {row: str(one[row]) for row in ("role", "version", "why", "source")}
    if key.startswith("date-"):
        return "2025-06-17"
    if key.startswith(("care-", "unchecked-")):
        word, bench = key.split("-")
        route = next(one for one in told["route"] if one["bench"] == bench)
        return ("; " if word == "care" else " ").join(route[word]) or None
    if key.startswith("effects-"):
        _, bench, _, number = key.split("-")
        route = next(one for one in told["route"] if one["bench"] == bench)
        return effects(route["step"][int(number) - 1])
    if key in ("template", "bundles", "ran"):
        return ""
    return None


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
    assert all(one.stops == (stop,) for one in done.proof.counters)
    assert done.proof.counters
