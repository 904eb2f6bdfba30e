"""A family file's values, each with the file and line it stands on, so that every problem can be pointed at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.families.limits import MAX_PROBLEMS
from catalogue.families.toml_lines import Path, part_name
from catalogue.shapes.results import FileProblem


@dataclass(frozen=True, slots=True)
class Node:
    """One value: `value` is a dict of nodes, a list of nodes, or what tomllib gives for a single value."""

    value: object
    file: str
    line: int

    @property
    def table(self) -> dict[str, Node] | None:
        """The nodes of a table, or None where this is none."""
        return self.value if isinstance(self.value, dict) else None

    @property
    def list(self) -> list[Node] | None:
        """The nodes of a list, or None where this is none."""
        return self.value if isinstance(self.value, list) else None


def located(value: object, lines: Mapping[Path, int], file: str, path: Path = (), line: int = 1) -> Node:
    """What tomllib gave, with lines. A path without a line of its own has that of the nearest one above."""
    line = lines.get(path, line)
    if isinstance(value, dict):
        return Node({key: located(one, lines, file, (*path, key), line) for key, one in value.items()}, file, line)
    if isinstance(value, list):
        return Node([located(one, lines, file, (*path, n), line) for n, one in enumerate(value)], file, line)
    return Node(value, file, line)


def named_nodes(node: Node) -> dict[str, Node]:
    """Every node below this one by its path as text (`toml_lines.dotted`)."""
    found: dict[str, Node] = {}
    _gather(node, "", found)
    return found


def _gather(node: Node, path: str, found: dict[str, Node]) -> None:
    inside = node.value
    if isinstance(inside, dict):
        below = [(f"{path}.{part_name(key)}" if path else part_name(key), one) for key, one in inside.items()]
    elif isinstance(inside, list):
        below = [(f"{path}[{number}]", one) for number, one in enumerate(inside)]
    else:
        return
    for name, one in below:
        found[name] = one
        _gather(one, name, found)


class Report:
    """Gathers problems. `dirty` holds the parts of the file ("role", "route[0]") in which one was found."""

    def __init__(self) -> None:
        self.problems: list[FileProblem] = []
        self.dirty: set[str] = set()
        self.part = ""

    def add(self, node: Node, text: str) -> None:
        """Tell of a problem at a node."""
        self.dirty.add(self.part)
        if len(self.problems) < MAX_PROBLEMS:
            self.problems.append(FileProblem(node.file, node.line, text))
        elif len(self.problems) == MAX_PROBLEMS:
            self.problems.append(FileProblem(node.file, node.line, "more problems follow; mend these first"))
