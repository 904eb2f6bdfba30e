"""The open questions of a drafted file: each with how it is answered and what its answer changes.

What a draft asks stands in the file: its name in `asks`, the question as comments where its answer belongs
(`page.Page.ask`). Where a person took the comments out, the name alone says what is asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from catalogue.families.drafting.page import MOST_ASKS
from catalogue.families.read_roles import ORDERS
from catalogue.families.toml_edit import Model, model_of
from catalogue.shapes.draft import Question

LINE, CHOICE, CHOICES, ROWS, CONFIRM, EFFECTS, LINES = (
    "line", "choice", "choices", "rows", "confirm", "effects", "lines",
)  # fmt: skip
LEFT_OUT = "it is left out, and nothing is checked by it"
AS_IS = "it stays as it stands"
EFFECT_WORDS = ("learns", "saves", "destroys", "writes", "checks", "compares")
EFFECT_ROWS = ("say", *EFFECT_WORDS, "then", "text", "size", "blank", "holds", "same-as")
_ASK = re.compile(r"^[ \t]*#[ \t]*ask:[ \t]*(\S+?):[ \t]*(.*)$")
_MORE = re.compile(r"^[ \t]*#[ \t]*(why|how):[ \t]*(.*)$")
_TEXT = re.compile(r'"([^"]{1,80})" \(')
_LABEL = re.compile(r"([^;?]{1,60}?) \(line \d+\)")


@dataclass(frozen=True, slots=True)
class Kind:
    """How a question is answered. `rows` and `offers` may depend on the file."""

    form: str
    changes: str
    leaves: str = ""
    rows: tuple[str, ...] = ()


KINDS: Mapping[str, Kind] = {
    "title": Kind(ROWS, "the family's title and id", rows=("title", "id")),
    "order": Kind(CHOICE, "order"),
    "flash": Kind(LINE, "flash under [card]; a larger piece is refused then", LEFT_OUT),
    "controllers": Kind(LINE, "controllers under [card]", "one is taken for true"),
    "modes": Kind(ROWS, "adds both modes", rows=("mode", "ids", "other mode", "other ids")),
    "class": Kind(LINE, "class under [mode.*]", LEFT_OUT),
    "mode-names": Kind(ROWS, "the names of the modes, wherever they stand", "they keep names made of their IDs"),
    "direction": Kind(ROWS, "from and to of every route", rows=("from", "to")),
    "tell-apart": Kind(ROWS, "adds the other mode", rows=("mode", "ids")),
    "too-many-modes": Kind(CHOICES, "takes out the modes that are not named"),
    "state": Kind(ROWS, "adds a half-way state", LEFT_OUT, ("name", "ids", "after")),
    "identity": Kind(LINES, "adds [listing] and [identity.NAME]"),
    "listing": Kind(LINE, "block under [listing]", "one adapter a text is taken for true"),
    "span": Kind(LINE, "span under [identity.*]", "one address is taken for true"),
    "typed": Kind(CHOICES, "typed under [identity.*]", "it is typed as the listing shows it"),
    "serial": Kind(CHOICE, "adds [identity.serial]", LEFT_OUT),
    "revision": Kind(ROWS, "revision under [card]", LEFT_OUT, ("label", "allowed")),
    "no": Kind(CONFIRM, "nothing is added: a kit for this card needs no such piece"),
    "has": Kind(ROWS, "has and decide under [role.*]: each mode's own text says yes, the other's says no"),
    "size": Kind(ROWS, "size under [role.*]", LEFT_OUT, ("least", "most")),
    "lowest": Kind(LINE, "lowest under [role.*]", LEFT_OUT),
    "companions": Kind(ROWS, "with under [role.writer]", LEFT_OUT),
    "version": Kind(LINE, "version under [role.*]", LEFT_OUT),
    "magic": Kind(ROWS, "magic under [layout.*]", AS_IS, ("at", "hex")),
    "sum": Kind(ROWS, "sum under [layout.*]", LEFT_OUT, ("as", "from", "to", "total", "at")),
    "template": Kind(CONFIRM, "nothing: no backup of a card stands in a release"),
    "more": Kind(CONFIRM, "nothing: the releases that the draft has no room for are left out"),
    "date": Kind(LINE, "date of that release"),
    "bundles": Kind(CONFIRM, "nothing: each bundle is one release, whole"),
    "withdrawn": Kind(ROWS, "adds [[withdrawn]]", LEFT_OUT, ("role", "version", "why", "source")),
    "ran": Kind(CONFIRM, "nothing: all these pieces ran on a card"),
    "route": Kind(LINES, "adds [[route]]"),
    "modes-on": Kind(ROWS, "from and to of the routes on that bench", rows=("from", "to")),
    "effects": Kind(EFFECTS, "say and the effects of that step", rows=EFFECT_ROWS),
    "care": Kind(LINE, "care of the routes on that bench; the run sheet shows it, parts by semicolons", LEFT_OUT),
    "unchecked": Kind(CHOICES, "unchecked of the routes on that bench", "all that is written must be read back"),
    "stepping": Kind(LINE, "stepping of every route", LEFT_OUT),
}
OTHER = Kind(LINES, "adds lines to the file", LEFT_OUT)
_FIXED = ("title", "order", "flash", "controllers", "modes", "mode-names", "direction", "tell-apart", "too-many-modes",
          "state", "identity", "listing", "serial", "revision", "companions", "magic", "sum", "template", "more",
          "bundles", "withdrawn", "ran", "route", "stepping")  # fmt: skip
_STEMS = ("class", "span", "typed", "no", "has", "size", "lowest", "version", "date", "effects", "care",
          "unchecked")


def kind_of(key: str) -> tuple[Kind, str]:
    """How a question of that name is answered, and the rest of its name, such as the role's."""
    if key in _FIXED:
        return KINDS[key], ""
    stem, _, rest = key.partition("-")
    if stem == "modes" and rest:
        return KINDS["modes-on"], rest
    return (KINDS[stem], rest) if stem in _STEMS and rest else (OTHER, "")


def asked(text: str) -> tuple[Question, ...]:
    """The open questions of a file, in its order of `asks`. Raises BadCall for a text that cannot be edited."""
    model = model_of(text)
    keys = model.get("asks", [])
    told = _told(text.split("\n"))
    if not isinstance(keys, list):
        return ()
    names = dict.fromkeys(one for one in keys if isinstance(one, str))
    return tuple(_question(key, told.get(key), model) for key in list(names)[: MOST_ASKS + 100])


@dataclass(slots=True)
class Told:
    """A question as its comments say it; `line` is from 1, `rows` how many lines they are."""

    line: int
    about: str
    why: str = ""
    how: str = ""
    rows: int = 1


def _told(rows: list[str]) -> dict[str, Told]:
    return dict(comments(rows))


def comments(rows: list[str]) -> Iterator[tuple[str, Told]]:
    """Every question that stands in comments, with its name; the first of a name counts."""
    seen: set[str] = set()
    for number, row in enumerate(rows):
        found = _ASK.match(row.rstrip("\r"))
        if not found or found[1] in seen:
            continue
        seen.add(found[1])
        one = Told(number + 1, found[2])
        for below in rows[number + 1 : number + 3]:
            more = _MORE.match(below.rstrip("\r"))
            if not more:
                break
            one.rows += 1
            if more[1] == "why":
                one.why = more[2]
            else:
                one.how = more[2]
        yield found[1], one


def _question(key: str, told: Told | None, model: Model) -> Question:
    kind, rest = kind_of(key)
    rows, given = _rows(key, kind, rest, model)
    told = told or Told(1, f"what of {key}?")
    return Question(
        key=key,
        about=told.about,
        why=told.why,
        how=told.how,
        form=kind.form,
        changes=kind.changes.replace("*", rest or "eeprom"),
        leaves=kind.leaves,
        rows=rows,
        offers=_offers(key, kind, told, model),
        given=given,
        line=told.line,
    )


def _table(model: Model, *path: str) -> Mapping[str, object]:
    here: object = model
    for part in path:
        here = here.get(part) if isinstance(here, Mapping) else None
    return here if isinstance(here, Mapping) else {}


def _rows(key: str, kind: Kind, rest: str, model: Model) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The rows of a question, and what they begin with."""
    modes = tuple(_table(model, "mode"))
    if key == "title":
        return kind.rows, (str(model.get("title", "")), str(model.get("id", "")))
    if key == "mode-names":
        return modes, modes
    if key.startswith("has-") and kind is KINDS["has"]:
        has = _table(model, "role", rest, "has")
        return modes, tuple(str(has.get(one, "")) for one in modes)
    if key == "companions":
        return tuple(_table(model, "role", "writer", "kind")) or ("dos",), ()
    if key == "magic":
        magic = _table(model, "layout", *list(_table(model, "layout"))[:1], "magic")
        return kind.rows, (str(magic.get("at", "")), str(magic.get("hex", "")))
    return kind.rows, ()


def _offers(key: str, kind: Kind, told: Told, model: Model) -> tuple[str, ...]:
    modes = tuple(_table(model, "mode"))
    if key == "order":
        return ORDERS
    if key in ("direction", "too-many-modes") or kind is KINDS["modes-on"]:
        return modes
    if kind is KINDS["typed"]:
        return ("no-separators", "upper", "lower")
    if kind is KINDS["has"]:
        return tuple(dict.fromkeys(_TEXT.findall(told.about)))
    if kind is KINDS["unchecked"]:
        return ("eeprom", "flash", "mode", *_table(model, "identity"))
    if key in ("serial", "revision"):
        return tuple(one.strip() for one in _LABEL.findall(told.about.rpartition("?")[2]))
    if kind.form == EFFECTS:
        return ("eeprom", "flash", "mode", "slot", *_table(model, "identity"))
    if key == "withdrawn":
        return tuple(_table(model, "role"))
    return ()
