"""Writes data as TOML in every odd way that is valid, with a marker of its own in every single value."""

from __future__ import annotations

import random
from itertools import count

TRICKY = ("", " # no comment", " [x] {y} = , .", "'", " \\\\ ", "é—", "]]", "''", "a.b")


class Writer:
    """`dice` decides each choice of style. `markers` maps each leaf's path to the marker that stands in it."""

    def __init__(self, dice: random.Random) -> None:
        self.dice = dice
        self.numbers = count(1_000_000)
        self.markers: dict[tuple[str | int, ...], str] = {}
        self.out: list[str] = []

    def document(self, data: dict[str, object]) -> str:
        self.table(data, (), ())
        return "".join(self.out)

    def chance(self, part: float = 0.5) -> bool:
        return self.dice.random() < part

    def blank(self) -> str:
        return self.dice.choice(["", " ", "\t", "  "])

    def gap(self) -> str:
        """What may stand between the entries of a list."""
        return self.dice.choice(["", " ", "\n", "\n\t", " # it's [a] comment, = {\n", "\n\n  "])

    def end(self) -> None:
        self.out.append(self.blank() + self.dice.choice(["\n", "\n\n", " # \"a\" = [b]\n", "\n# x = 1\n", "\n \n"]))

    def key(self, name: str) -> str:
        bare = name.isascii() and name.replace("-", "").replace("_", "").isalnum()
        style = self.dice.random()
        if bare and style < 0.7:
            return name
        if style < 0.85 and "'" not in name and name.isprintable():
            return f"'{name}'"
        escaped = name.replace("\\", "\\\\").replace('"', '\\"')
        return '"' + "".join(one if one.isprintable() else f"\\u{ord(one):04x}" for one in escaped) + '"'

    def dotted(self, names: tuple[str, ...]) -> str:
        return f"{self.blank()}.{self.blank()}".join(self.key(name) for name in names)

    def table(self, data: dict[str, object], path: tuple[str | int, ...], header: tuple[str, ...]) -> None:
        """The pairs of a table, then its tables under headers of their own."""
        later = []
        for name, value in data.items():
            tables = isinstance(value, dict) or (
                isinstance(value, list) and value and all(isinstance(one, dict) for one in value)
            )
            if tables and self.chance(0.6):
                later.append((name, value))
            else:
                self.pair((name,), value, (*path, name))
        for name, value in later:
            full = (*header, name)
            if isinstance(value, dict):
                self.out.append(f"{self.blank()}[{self.blank()}{self.dotted(full)}{self.blank()}]")
                self.end()
                self.table(value, (*path, name), full)
            else:
                for number, one in enumerate(value):
                    self.out.append(f"{self.blank()}[[{self.blank()}{self.dotted(full)}{self.blank()}]]")
                    self.end()
                    self.table(one, (*path, name, number), full)

    def pair(self, names: tuple[str, ...], value: object, path: tuple[str | int, ...]) -> None:
        if isinstance(value, dict) and value and self.chance(0.4):
            for name, one in value.items():
                self.pair((*names, name), one, (*path, name))
            return
        self.out.append(f"{self.blank()}{self.dotted(names)}{self.blank()}={self.blank()}{self.value(value, path)}")
        self.end()

    def value(self, value: object, path: tuple[str | int, ...]) -> str:
        if isinstance(value, dict):
            pairs = [f"{self.key(name)} ={self.blank()}{self.inner(one, (*path, name))}" for name, one in value.items()]
            return "{" + self.blank() + f"{self.blank()},{self.blank()}".join(pairs) + self.blank() + "}"
        if isinstance(value, list):
            entries = [self.gap() + self.value(one, (*path, number)) + self.gap() for number, one in enumerate(value)]
            comma = "," if entries and self.chance() else ""
            return "[" + ",".join(entries) + comma + self.gap() + "]"
        return self.leaf(path)

    def inner(self, value: object, path: tuple[str | int, ...]) -> str:
        """A value inside an inline table."""
        return self.value(value, path)

    def leaf(self, path: tuple[str | int, ...]) -> str:
        marker = str(next(self.numbers))
        self.markers[path] = marker
        extra = self.dice.choice(TRICKY)
        single = extra.replace("'", "")
        return self.dice.choice([
            marker,
            f"+{marker}",
            f"{marker}.5e3",
            f'"{marker}{extra}"',
            f'"{marker}\\"\\\\"',
            f"'{marker}{single}\"'",
            f'"""{marker}{extra}\n " \\""" "" {extra}"""',
            f'"""{marker}""\\\n   x"""""',
            f"'''{marker}\n{single}\n'' {single}'''",
            f"'''{marker}'''''",
            f"2026-03-01 10:00:00.{marker}",
            f"2026-03-01T10:00:00.{marker}+01:00",
            f"10:00:00.{marker}",
        ])
