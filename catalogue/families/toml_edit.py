"""Changes to a family file's text that leave everything else as it stands: comments, order, blanks, spellings.

`tomlkit` writes; what it made is read again by the standard library and must equal what was meant, or nothing is
changed. A text is refused where it is over the bounds of a family file, or too long to be edited in a moment.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from catalogue.errors import BadCall
from catalogue.families.source import source_of
from catalogue.families.toml_lines import line_index

MOST_BYTES = 256 << 10
"""UTF-8 bytes of a text that is edited: about two seconds of work, ten times the length of a draft with a log."""
BY_HAND = "This file cannot be edited here without changing what else stands in it. Edit it by hand"

Path = tuple[str | int, ...]
Model = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Put:
    """Set the value at a path; tables on the way are made, a list grows by one at its length.

    A `value` that is a table stands inline, or with `header` under a header of its own.
    """

    path: Path
    value: object
    header: bool = False


@dataclass(frozen=True, slots=True)
class Drop:
    """Take out what stands at a path."""

    path: Path


@lru_cache(maxsize=8)
def model_of(text: str) -> Model:
    """What a text says, within the bounds of a family file; never to be changed. Raises BadCall."""
    if len(text) > MOST_BYTES or len(text.encode("utf-8", "surrogatepass")) > MOST_BYTES:
        raise BadCall(f"This file is longer than {MOST_BYTES >> 10} KiB, which is too long to be edited here.")
    source = source_of("the draft", text.encode("utf-8", "surrogatepass"))
    if source.root is None:
        one = source.problems[0]
        raise BadCall(f"Line {one.line} {one.text}.")
    return tomllib.loads(text.removeprefix("\ufeff").replace("\r\n", "\n"))


def edited(text: str, changes: Sequence[Put | Drop], at: int | None = None) -> str:
    """`text` with the changes in it. Raises BadCall where a path leads nowhere, or the text cannot be edited.

    A single new key stands before line `at` (from 1), where one is given and that is in the key's table.
    """
    wanted = copy.deepcopy(model_of(text))
    for one in changes:
        _change(wanted, one, _PLAIN)
    if at is not None and len(changes) == 1 and isinstance(changes[0], Put) and not changes[0].header:
        row = _row(changes[0])
        with suppress(BadCall):
            return _made(text, lambda plain: _with_row(plain, at, row), wanted)
    if len(changes) == 1 and isinstance(changes[0], Drop):
        path = changes[0].path
        with suppress(BadCall):
            return _made(text, lambda plain: _without_row(plain, path), wanted)
    return _made(text, lambda plain: _by_tomlkit(plain, changes), wanted)


def _row(one: Put) -> str:
    """A key and its value on a line of its own."""
    import tomlkit

    document = tomlkit.document()
    document.append(str(one.path[-1]), _inline(one.value))
    return document.as_string().rstrip("\n")


def _with_row(plain: str, at: int, row: str) -> str:
    rows = plain.split("\n")
    return "\n".join([*rows[: at - 1], row, *rows[at - 1 :]])


def _without_row(plain: str, path: Path) -> str:
    """Without the line of an entry that stands on a line of its own; the text itself where it does not."""
    rows = plain.split("\n")
    number = line_index(plain).get(path, 0)
    if number and "#" not in rows[number - 1]:
        del rows[number - 1]
    return "\n".join(rows)


def _by_tomlkit(text: str, changes: Sequence[Put | Drop]) -> str:
    import tomlkit

    document = tomlkit.parse(text)
    for one in changes:
        _change(document, one, _Maker(_inline, _table, tomlkit.aot))
    return document.as_string()


def _inline(value: object) -> object:
    """A value as it is written on one line."""
    import tomlkit

    if isinstance(value, dict):
        made = tomlkit.inline_table()
        for key, one in value.items():
            made.append(key, _inline(one))
        return made
    if isinstance(value, list | tuple):
        row = tomlkit.array()
        for one in value:
            row.append(_inline(one))
        return row
    return tomlkit.item(value)


def _table(value: object) -> object:
    import tomlkit

    made = tomlkit.table()
    assert isinstance(value, dict)
    for key, one in value.items():
        made.append(key, _inline(one))
    return made


@dataclass(frozen=True, slots=True)
class _Maker:
    """How values come to be: on one line, under a header, as a list of tables."""

    inline: Callable[[object], Any]
    table: Callable[[object], Any]
    rows: Callable[[], Any]


_PLAIN = _Maker(copy.deepcopy, copy.deepcopy, list)


def _change(root: Any, one: Put | Drop, made: _Maker) -> None:  # noqa: ANN401
    *way, last = one.path
    here = root
    try:
        for part, after in zip(way, one.path[1:], strict=True):
            if isinstance(here, dict) and part not in here and isinstance(one, Put):
                here[part] = made.rows() if isinstance(after, int) else made.table({})
            here = here[part]
        under = made.table if isinstance(one, Put) and one.header and not _is_array(here) else made.inline
        if isinstance(one, Drop):
            del here[last]
        elif isinstance(here, list) and last == len(here):
            here.append(under(one.value))
        elif isinstance(here, dict) or isinstance(last, int):
            here[last] = under(one.value)
        else:
            raise KeyError(last)
    except (KeyError, IndexError, TypeError) as why:
        raise BadCall(f"Nothing stands at {'.'.join(map(str, one.path))} in this file, to be changed.") from why


def _is_array(here: object) -> bool:
    """Whether tables of this list stand inline, in square brackets."""
    return type(here).__name__ == "Array"


def header_renamed(text: str, section: str, old: str, new: str) -> str:
    """`text` with the table `[section.old]` called `[section.new]`, its own tables with it. Raises BadCall."""
    model = copy.deepcopy(model_of(text))
    below = model.get(section)
    if not isinstance(below, dict) or old not in below:
        raise BadCall(f"There is no [{section}.{old}] in this file.")
    if new in below:
        raise BadCall(f"There is a [{section}.{new}] already.")
    model[section] = {new if name == old else name: one for name, one in below.items()}
    head = re.compile(rf'^([ \t]*\[[ \t]*{section}[ \t]*\.[ \t]*)(["\']?){re.escape(old)}\2(?=[ \t]*[.\]])')

    def renamed(plain: str) -> str:
        lines = {number for path, number in line_index(plain).items() if path[:2] == (section, old)}
        rows = plain.split("\n")
        for number in lines:
            rows[number - 1] = head.sub(lambda found: found[1] + found[2] + new + found[2], rows[number - 1])
        return "\n".join(rows)

    return _made(text, renamed, model)


def rows_changed(text: str, change: Callable[[list[str]], list[str]]) -> str:
    """`text` with other lines of comment: what it says must stay the same. Raises BadCall."""
    return _made(text, lambda plain: "\n".join(change(plain.split("\n"))), model_of(text))


def rows_added(text: str, at: int, rows: Sequence[str]) -> str:
    """`text` with whole lines put in before line `at` (from 1): what it said must stay as it was. Raises BadCall."""
    before = model_of(text)
    lines = text.split("\n")
    made = "\n".join([*lines[: at - 1], *rows, *lines[at - 1 :]])
    if not _holds(model_of(made), before):
        raise BadCall("These lines change what stands in the file already; nothing was changed.")
    return made


def _holds(new: object, old: object) -> bool:
    """Whether all of `old` stands in `new`, lists at most lengthened."""
    if isinstance(old, dict):
        return isinstance(new, dict) and all(key in new and _holds(new[key], one) for key, one in old.items())
    if isinstance(old, list):
        return isinstance(new, list) and len(new) >= len(old) and all(map(_holds, new, old))
    return type(new) is type(old) and new == old


def _made(text: str, change: Callable[[str], str], wanted: Model) -> str:
    """What `change` makes of a text, with its mark and line ends kept, if it says exactly what is wanted."""
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    plain = text.removeprefix("\ufeff")
    crlf = "\r\n" in plain and plain.count("\n") == plain.count("\r\n")
    try:
        made = change(plain.replace("\r\n", "\n"))
        said = model_of(made)
    except BadCall:
        raise
    except Exception as why:  # whatever a library makes of an odd but valid text: nothing is changed then
        raise BadCall(f"{BY_HAND}.") from why
    if said != wanted:
        raise BadCall(f"{BY_HAND}.")
    return mark + (made.replace("\n", "\r\n") if crlf else made)
