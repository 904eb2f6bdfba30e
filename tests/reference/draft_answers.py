"""What the shipped family files answer to a draft's open questions, one by one, through the program's own answers."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from catalogue.families.drafting import answers
from catalogue.families.drafting.questions import asked
from sample_bundles import bittern, heron
from tests.reference.draft_recovery import shipped

NAMES = {bittern.FAMILY: {"id-f234-0c80": "raid", "id-f234-0c81": "pass"},
         heron.FAMILY: {"id-f234-0a60": "raid", "id-f234-0a61": "pass"}}  # fmt: skip
MOST = 200


def answered(text: str, family: str, until: int = MOST) -> str:
    """A draft with its questions answered in their order, `until` of them."""
    told = tomllib.loads(shipped(family))
    for _ in range(until):
        questions = asked(text)
        if not questions:
            break
        text = answers.answer(text, questions[0].key, truth(family, questions[0].key, told))
    return text


def effects(step: Mapping[str, Any]) -> dict[str, str]:
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


def truth(family: str, key: str, told: Mapping[str, Any]) -> str | Mapping[str, str] | None:
    """What the shipped file answers; None where it is silent too."""
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
        return {row: str(told["withdrawn"][0][row]) for row in ("role", "version", "why", "source")}
    if key.startswith("date-"):
        return "2025-06-17"
    if key.startswith(("care-", "unchecked-", "effects-")):
        word, bench, *rest = key.split("-")
        route = next(one for one in told["route"] if one["bench"] == bench)
        if word == "effects":
            return effects(route["step"][int(rest[-1]) - 1])
        return ("; " if word == "care" else " ").join(route[word]) or None
    return "" if key in ("template", "bundles", "ran") else None
