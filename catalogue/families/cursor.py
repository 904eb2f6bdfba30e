"""Reading tables strictly: what is asked for is checked, what nobody asked for is an unknown key."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Collection
from datetime import date, datetime
from typing import TypeVar

from catalogue.families.limits import MAX_LIST, MAX_TEXT
from catalogue.families.node import Node, Report

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,31}")
"""A name that this file gives: of a mode, state, role, identity, layout, step."""
T = TypeVar("T")
_EARLIEST, _LATEST = date(1980, 1, 1), date(2199, 12, 31)


def quoted(value: object) -> str:
    """A value as a problem shows it, cut to a length that can be read."""
    text = str(value)
    text = text if len(text) <= 60 else text[:57] + "..."
    return '"' + text.encode("unicode_escape").decode("ascii") + '"'


def one_of(choices: Collection[str]) -> str:
    """Choices as words: "a, b or c"."""
    *most, last = choices
    return f"{', '.join(most)} or {last}" if most else last


def nearest(word: str, choices: Collection[str]) -> str:
    """A hint at the choice that was probably meant, or nothing."""
    found = difflib.get_close_matches(word[:64], list(choices), 1, 0.6)
    return f"; did you mean {found[0]}?" if found else ""


class Table:
    """One table being read. Every getter reports what is wrong and answers None (or nothing) for it."""

    def __init__(self, node: Node, path: str, report: Report) -> None:
        self.node = node
        self.path = path
        self.report = report
        self.items = node.table or {}
        self.asked: dict[str, None] = {}

    def __contains__(self, key: str) -> bool:
        return key in self.items

    def name_of(self, key: str) -> str:
        """The key's full name in problems."""
        return f"{self.path}.{key}" if self.path else key

    def wrong(self, key: str, text: str) -> None:
        """Report a problem at the line of `key` (of the table, where the key is not there)."""
        self.report.add(self.items.get(key, self.node), f"{self.name_of(key)} {text}")

    def wrong_here(self, text: str) -> None:
        """Report a problem at the table's own line."""
        self.report.add(self.node, f"{self.path or 'the file'} {text}")

    def get(self, key: str, required: bool = False) -> Node | None:
        """The node of a key. A required one that is missing is a problem at the table's line."""
        self.asked[key] = None
        found = self.items.get(key)
        if found is None and required:
            self.wrong(key, "is missing")
        return found

    def done(self) -> None:
        """Report every key that nobody asked for."""
        for key, node in self.items.items():
            if key not in self.asked:
                where = f" in {self.path}" if self.path else ""
                self.report.add(node, f"unknown key {quoted(key)}{where}{nearest(key, self.asked)}")

    def text(
        self, key: str, *, required: bool = False, form: re.Pattern[str] | None = None, means: str = ""
    ) -> str | None:
        """A text of one printable line, at most MAX_TEXT long, matching `form` whole (which `means` puts in words)."""
        node = self.get(key, required)
        return None if node is None else self.one_text(node, self.name_of(key), form, means)

    def one_text(self, node: Node, name: str, form: re.Pattern[str] | None = None, means: str = "") -> str | None:
        """The text of one node; see `text`."""
        value = node.value
        if not isinstance(value, str):
            why = "must be a text in quotes"
        elif not value.strip():
            why = "is empty"
        elif len(value) > MAX_TEXT:
            why = f"is longer than {MAX_TEXT} characters"
        elif not value.isprintable():
            why = "holds line ends or other characters that cannot be shown"
        elif form and not form.fullmatch(value):
            why = f"is {quoted(value)}, and must be {means}"
        else:
            return value
        self.report.add(node, f"{name} {why}")
        return None

    def texts(
        self, key: str, *, required: bool = False, form: re.Pattern[str] | None = None, means: str = "", least: int = 0
    ) -> tuple[str, ...]:
        """A list of texts, none twice."""
        out: dict[str, None] = {}
        for node in self.list_of(key, required, least):
            one = self.one_text(node, self.name_of(key), form, means)
            if one in out:
                self.report.add(node, f"{self.name_of(key)} holds {quoted(one)} twice")
            elif one is not None:
                out[one] = None
        return tuple(out)

    def list_of(self, key: str, required: bool = False, least: int = 0) -> list[Node]:
        """The nodes of a list."""
        node = self.get(key, required)
        if node is None:
            return []
        if node.list is None:
            self.wrong(key, "must be a list in square brackets")
            return []
        if len(node.list) > MAX_LIST:
            self.wrong(key, f"has more than {MAX_LIST} entries")
            return []
        if len(node.list) < least:
            self.wrong(key, f"needs at least {least} {'entry' if least == 1 else 'entries'}")
        return node.list

    def integer(self, key: str, least: int, most: int, *, required: bool = False) -> int | None:
        """A whole number within [least, most]."""
        node = self.get(key, required)
        return None if node is None else self.one_integer(node, self.name_of(key), least, most)

    def one_integer(self, node: Node, name: str, least: int, most: int) -> int | None:
        """The whole number of one node; see `integer`."""
        value = node.value
        if not isinstance(value, int) or isinstance(value, bool):
            self.report.add(node, f"{name} must be a whole number, without quotes")
            return None
        if not least <= value <= most:
            self.report.add(node, f"{name} must lie between {least} and {most}")
            return None
        return value

    def flag(self, key: str) -> bool | None:
        """A truth value."""
        node = self.get(key)
        if node is None:
            return None
        if not isinstance(node.value, bool):
            self.wrong(key, "must be true or false, without quotes")
            return None
        return node.value

    def day(self, key: str, *, required: bool = False) -> date | None:
        """A date without a time of day, between 1980 and 2199."""
        node = self.get(key, required)
        if node is None:
            return None
        value = node.value
        if not isinstance(value, date) or isinstance(value, datetime):
            self.wrong(key, "must be a date such as 2026-03-01, without quotes")
            return None
        if not _EARLIEST <= value <= _LATEST:
            self.wrong(key, f"is {value}; no family file was written then")
            return None
        return value

    def choice(self, key: str, choices: Collection[str], *, required: bool = False) -> str | None:
        """One of the choices."""
        node = self.get(key, required)
        return None if node is None else self.one_choice(node, self.name_of(key), choices)

    def one_choice(self, node: Node, name: str, choices: Collection[str]) -> str | None:
        """The choice of one node."""
        value = self.one_text(node, name)
        if value is None or value in choices:
            return value
        self.report.add(node, f"{name} is {quoted(value)}, and must be {one_of(choices)}{nearest(value, choices)}")
        return None

    def choices(self, key: str, choices: Collection[str], *, required: bool = False) -> tuple[str, ...]:
        """A list of choices, none twice."""
        out: dict[str, None] = {}
        for node in self.list_of(key, required):
            one = self.one_choice(node, self.name_of(key), choices)
            if one in out:
                self.report.add(node, f"{self.name_of(key)} holds {quoted(one)} twice")
            elif one is not None:
                out[one] = None
        return tuple(out)

    def parsed(self, key: str, parse: Callable[[str], T], *, required: bool = False) -> T | None:
        """A text that `parse` turns into a value; its ValueError becomes the problem."""
        node = self.get(key, required)
        return None if node is None else self.one_parsed(node, self.name_of(key), parse)

    def one_parsed(self, node: Node, name: str, parse: Callable[[str], T]) -> T | None:
        """The parsed value of one node; see `parsed`."""
        value = self.one_text(node, name)
        if value is None:
            return None
        try:
            return parse(value)
        except ValueError as why:
            self.report.add(node, f"{name} is {quoted(value)}: {why}")
            return None

    def all_parsed(
        self, key: str, parse: Callable[[str], T], *, required: bool = False, least: int = 0
    ) -> tuple[T, ...]:
        """A list of texts, each parsed, none twice."""
        out: list[T] = []
        for node in self.list_of(key, required, least):
            one = self.one_parsed(node, self.name_of(key), parse)
            if one is not None and one in out:
                self.report.add(node, f"{self.name_of(key)} holds {quoted(node.value)} twice")
            elif one is not None:
                out.append(one)
        return tuple(out)

    def sub(self, key: str, *, required: bool = False) -> Table | None:
        """A table inside this one."""
        node = self.get(key, required)
        if node is None:
            return None
        if node.table is None:
            self.wrong(key, "must be a table")
            return None
        return Table(node, self.name_of(key), self.report)

    def named(self, key: str) -> list[tuple[str, Table]]:
        """The tables of `[key.NAME]`, by name; names that are no names are reported."""
        above = self.sub(key)
        if above is None:
            return []
        if len(above.items) > MAX_LIST:
            above.wrong_here(f"has more than {MAX_LIST} tables")
            return []
        out = []
        for name, node in above.items.items():
            if not NAME.fullmatch(name):
                self.report.add(node, f"{quoted(name)} is no name; use 1 to 32 letters, digits, - and _")
            elif node.table is None:
                self.report.add(node, f"{above.name_of(name)} must be a table of its own, [{above.name_of(name)}]")
            else:
                out.append((name, Table(node, above.name_of(name), self.report)))
        return out

    def each(self, key: str, *, required: bool = False) -> list[Table]:
        """The tables of `[[key]]`, or of a list of inline tables."""
        out = []
        for number, node in enumerate(self.list_of(key, required)):
            name = f"{self.name_of(key)}[{number}]"
            if node.table is None:
                self.report.add(node, f"{name} must be a table")
            else:
                out.append(Table(node, name, self.report))
        return out
