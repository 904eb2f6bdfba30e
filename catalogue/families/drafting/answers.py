"""A person's answer to an open question of a draft, put into the file; everything else in it stays as it stands.

An answer is a text, a text for each row, or None for "I do not know". It is judged by the loader before it is taken:
what the loader would refuse is refused here, in the loader's words. What was asked becomes a comment that says the
answer, so that nobody must guess later where a line came from.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from catalogue.errors import BadCall
from catalogue.families.drafting.given_answer import (
    Answer,
    choice,
    day,
    each_row,
    mode_name,
    number,
    one_text,
    parts,
    plain,
    want,
)
from catalogue.families.drafting.questions import (
    CHOICE,
    CHOICES,
    CONFIRM,
    EFFECT_WORDS,
    EFFECTS,
    LINE,
    LINES,
    asked,
    comments,
    kind_of,
)
from catalogue.families.load import misread
from catalogue.families.source import source_of
from catalogue.families.toml_edit import Drop, Model, Put, edited, header_renamed, model_of, rows_added, rows_changed
from catalogue.shapes.draft import Question
from catalogue.shapes.visible import visible

Changes = list[Put | Drop]
MOST_LINES = 20_000
"""Characters of lines that a person writes as an answer."""
MOST_TOLD = 200


def answer(text: str, key: str, value: Answer) -> str:
    """`text` with the question `key` answered. Raises BadCall for what is no answer, and changes nothing then."""
    question = next((one for one in asked(text) if one.key == key), None)
    if question is None:
        raise BadCall(f'No question "{visible(key, 60)}" is open in this file.')
    if value is None:
        if not question.leaves:
            raise BadCall("This one must be answered, by you or by somebody who knows; it stays open until then.")
        return _closed(text, question, f"not known; {question.leaves}")
    kind, rest = kind_of(key)
    if kind.form == LINES:
        made, told = _by_hand(text, question, one_text(value)), "written by hand"
    elif kind.form == CONFIRM:
        made, told = text, "so it is"
    elif key == "mode-names":
        made, told = _named(text, each_row(question, value)), _shown(value)
    else:
        model = model_of(text)
        made, told = edited(text, _changes(question, rest, value, model), _place(text, question)), _shown(value)
    _demand_sound(text, made)
    made = _closed(made, question, told)
    for one in _answered_too(key, made):
        made = _closed(made, one, f"as answered under {key}")
    return made


def _role_path(model: Model, rest: str, key: str) -> tuple[str | int, ...]:
    return ("role", rest, key)


def _routes(model: Model, bench: str = "") -> list[int]:
    routes = model.get("route", [])
    return [n for n, one in enumerate(routes) if isinstance(one, dict) and (not bench or one.get("bench") == bench)]


def _changes(question: Question, rest: str, value: Answer, model: Model) -> Changes:
    """What an answer that is no mere yes changes in the file."""
    key = question.key
    if question.form == CHOICES:
        return _several(question, rest, parts(one_text(value), question.offers), model)
    if question.form in (LINE, CHOICE):
        text = choice(question, value) if question.form == CHOICE else plain(one_text(value))
        return _of_line(question, rest, text, model)
    given = each_row(question, value)
    if question.form == EFFECTS:
        return _effects(rest, given, model)
    if key == "title":
        (title,) = want(given, "title")
        return [Put(("title",), title), *([Put(("id",), given["id"])] if "id" in given else [])]
    if key == "direction" or key.startswith("modes-"):
        source, target = (choice(question, one) for one in want(given, "from", "to"))
        if source == target:
            raise BadCall("From and to are the same mode.")
        at = _routes(model, rest)
        return [one for n in at for one in (Put(("route", n, "from"), source), Put(("route", n, "to"), target))]
    if key in ("tell-apart", "modes"):
        name, ids = want(given, "mode", "ids")
        rows = [(name, ids), *([tuple(want(given, "other mode", "other ids"))] if key == "modes" else [])]
        return [Put(("mode", mode_name(one[0])), {"ids": parts(one[1])}, header=True) for one in rows]
    if key == "state":
        name, ids, after = want(given, "name", "ids", "after")
        return [Put(("state", mode_name(name)), {"ids": parts(ids), "after": after}, header=True)]
    if key == "revision":
        label, allowed = want(given, "label", "allowed")
        find = label if "{value}" in label else f"{label} ~ {{value}}"
        return [Put(("card", "revision"), {"find": find, "allowed": parts(allowed)})]
    if key == "companions":
        found = {bench: parts(names) for bench, names in given.items()}
        if not found:
            raise BadCall("No file is named. Where none is needed, say that you do not know of one.")
        return [Put(("role", "writer", "with"), found)]
    if key == "withdrawn":
        want(given, "role", "version", "why", "source")
        return [Put(("withdrawn", len(model.get("withdrawn", []))), given, header=True)]
    if key in ("magic", "sum"):
        return _of_layout(key, given, model)
    if key.startswith("has-"):
        want(given, *question.rows)
        decide = model["role"][rest].get("decide", [])
        more: Changes = [] if "has" in decide else [Put(("role", rest, "decide", len(decide)), "has")]
        return [Put(("role", rest, "has"), given), *more]
    least, most = map(number, want(given, "least", "most"))
    return [Put(_role_path(model, rest, "size"), [least, most])]


def _of_line(question: Question, rest: str, text: str, model: Model) -> Changes:
    key = question.key
    paths: dict[str, Callable[[], Put]] = {
        "order": lambda: Put(("order",), text),
        "flash": lambda: Put(("card", "flash"), number(text)),
        "controllers": lambda: Put(("card", "controllers"), number(text)),
        "class": lambda: Put(("mode", rest, "class"), text.upper()),
        "listing": lambda: Put(("listing", "block"), text),
        "span": lambda: Put(("identity", rest, "span"), number(text)),
        "serial": lambda: Put(("identity", "serial"), {"as": "text", "find": f"{text} ~ {{value}}"}, header=True),
        "lowest": lambda: Put(_role_path(model, rest, "lowest"), text),
        "version": lambda: Put(
            _role_path(model, rest, "version"), text if "{version}" in text else f"{text.rstrip()} {{version}}"
        ),
    }
    if key.startswith("care-"):
        cautions = [one.strip() for one in text.split(";") if one.strip()]
        return [Put(("route", n, "care"), cautions) for n in _routes(model, rest)]
    if key == "stepping":
        return [Put(("route", n, "stepping"), {"least": text}) for n in _routes(model)]
    if key.startswith("date-"):
        if not rest.isdecimal() or len(rest) > 4:
            raise BadCall("This file does not say which release that is. Write its date by hand.")
        return [Put(("release", int(rest) - 1, "date"), day(text))]
    return [paths[key if key in paths else key.partition("-")[0]]()]


def _several(question: Question, rest: str, chosen: list[str], model: Model) -> Changes:
    if question.key.startswith("unchecked-"):
        return [Put(("route", n, "unchecked"), chosen) for n in _routes(model, rest)]
    if question.key != "too-many-modes":
        return [Put(("identity", rest, "typed"), chosen)]
    if not chosen:
        raise BadCall("Name the modes that belong to this card.")
    return [Drop(("mode", one)) for one in model.get("mode", {}) if one not in chosen]


def _of_layout(key: str, given: Mapping[str, str], model: Model) -> Changes:
    name = next(iter(model.get("layout", {})), None)
    if name is None:
        raise BadCall("This file has no layout.")
    if key == "magic":
        at, text = want(given, "at", "hex")
        return [Put(("layout", name, "magic"), {"at": number(at), "hex": text})]
    want(given, "as", "from", "to")
    value = {row: one if row == "as" else number(one) for row, one in given.items()}
    return [Put(("layout", name, "sum"), value)]


def _effects(rest: str, given: Mapping[str, str], model: Model) -> Changes:
    """Say and effects of one step; `rest` is its route's bench and its name."""
    bench, _, name = rest.partition("-")
    at = [
        (n, place)
        for n in _routes(model, bench)
        for place, step in enumerate(model["route"][n].get("step", []))
        if isinstance(step, dict) and step.get("name") == name
    ]
    if len(at) != 1:
        raise BadCall("This file has no such step any more, or several. Write its effects by hand.")
    want(given, "say")
    step = ("route", at[0][0], "step", at[0][1])
    out: Changes = [Put((*step, "say"), given["say"])]
    out += [Put((*step, word), parts(given[word])) for word in EFFECT_WORDS if word in given]
    if "then" in given:
        out.append(Put((*step, "then"), given["then"]))
    expects: dict[str, object] = {row: given[row] for row in ("text", "same-as") if row in given}
    expects |= {"size": number(given["size"])} if "size" in given else {}
    expects |= {"blank": given["blank"] == "true"} if "blank" in given else {}
    expects |= {"holds": parts(given["holds"])} if "holds" in given else {}
    return [*out, *([Put((*step, "expects"), expects)] if expects else [])]


def _named(text: str, names: Mapping[str, str]) -> str:
    """Modes under other names, wherever they stand: tables, routes, roles, and the questions that are still open."""
    new = {old: mode_name(one) for old, one in names.items() if one != old}
    kept = [one for one in model_of(text).get("mode", {}) if one not in new]
    if len({*kept, *new.values()}) < len(kept) + len(new):
        raise BadCall("Two modes would have one name.")
    for old, one in new.items():
        text = header_renamed(text, "mode", old, one)
    model = model_of(text)
    changes: Changes = []
    for n in _routes(model):
        for end in ("from", "to"):
            if model["route"][n].get(end) in new:
                changes.append(Put(("route", n, end), new[model["route"][n][end]]))
    for role, one in model.get("role", {}).items():
        has = one.get("has") if isinstance(one, dict) else None
        if isinstance(has, dict) and any(mode in new for mode in has):
            changes.append(Put(("role", role, "has"), {new.get(mode, mode): said for mode, said in has.items()}))
    asks = model.get("asks", [])
    for n, one in enumerate(asks):
        if isinstance(one, str) and one.startswith("class-") and one.removeprefix("class-") in new:
            changes.append(Put(("asks", n), f"class-{new[one.removeprefix('class-')]}"))
    text = edited(text, changes)

    def retold(rows: list[str]) -> list[str]:
        rows = list(rows)
        for _key, one in list(comments(rows)):
            for n in range(one.line - 1, one.line - 1 + one.rows):
                for old, name in new.items():
                    word = rf"(?<![\w-]){re.escape(old)}(?![\w-])|(?<=class-){re.escape(old)}(?=:)"
                    rows[n] = re.sub(word, name, rows[n])
        return rows

    return rows_changed(text, retold)


def _place(text: str, question: Question) -> int | None:
    """The line below the comments of a question, from 1; None where they are gone."""
    return next((one.line + one.rows for key, one in comments(text.split("\n")) if key == question.key), None)


def _by_hand(text: str, question: Question, lines: str) -> str:
    if len(lines) > MOST_LINES:
        raise BadCall(f"These lines are longer than {MOST_LINES} characters.")
    if not lines.strip():
        raise BadCall("The answer is empty. Where you do not know, say so.")
    rows = lines.replace("\r\n", "\n").strip("\n").split("\n")
    return rows_added(text, _place(text, question) or text.count("\n") + 1, rows)


def _answered_too(key: str, text: str) -> list[Question]:
    """Questions that this answer answers too: who gave one direction for all routes gave it for each."""
    return [one for one in asked(text) if one.key.startswith("modes-")] if key == "direction" else []


def _shown(value: Answer) -> str:
    if isinstance(value, Mapping):
        return "; ".join(f"{row} {one.strip()}" for row, one in value.items() if one.strip())
    return value or ""


def _closed(text: str, question: Question, told: str) -> str:
    """`text` without the question: out of `asks`, its comments one that says the answer."""
    keys = model_of(text).get("asks", [])
    for n in reversed([n for n, one in enumerate(keys) if one == question.key]):
        text = edited(text, [Drop(("asks", n))])

    def said(rows: list[str]) -> list[str]:
        for key, one in comments(rows):
            if key == question.key:
                line = f"# answered: {key}: {visible(question.about, MOST_TOLD)} {visible(told, MOST_TOLD)}"
                end = "\r" if rows[one.line - 1].endswith("\r") else ""
                return [*rows[: one.line - 1], line + end, *rows[one.line - 1 + one.rows :]]
        return rows

    return rows_changed(text, said)


def _demand_sound(before: str, after: str) -> None:
    """Raise BadCall where the loader would refuse what the answer says."""
    if before == after:
        return
    known = {one.text for one in misread(source_of("draft", before.encode()))}
    for one in misread(source_of("draft", after.encode())):
        if one.text not in known and not one.text.startswith("asks: "):
            raise BadCall(f"{one.text[0].upper()}{one.text[1:]}.")

