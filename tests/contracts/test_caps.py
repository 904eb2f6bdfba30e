"""Every bound in the three files of bounds has a test that reaches it, and one that has none is found.

A bound counts as reached where a test function of its own room names it: set low with monkeypatch, or met in full. An
import alone, a comment, or a helper outside a test does not count. That the test goes red without the bound is not
shown here.
"""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

from catalogue.families import limits as of_families
from catalogue.formats import limits as of_formats
from catalogue.intake import bounds as of_intake

TESTS = Path(__file__).resolve().parents[1]
ROOMS: dict[ModuleType, tuple[str, ...]] = {
    of_formats: ("formats", "intake"),
    of_intake: ("intake",),
    of_families: ("families",),
}
CAPS = [
    (module, name)
    for module in ROOMS
    for name, value in vars(module).items()
    if name.isupper() and isinstance(value, int)
]


def named_in(source: str) -> set[str]:
    """The upper-case names, attributes and strings in the test functions (and their cases) of a file of tests."""
    found: set[str] = set()
    for function in ast.walk(ast.parse(source)):
        if not isinstance(function, ast.FunctionDef) or not function.name.startswith("test_"):
            continue
        for node in ast.walk(function):
            if isinstance(node, ast.Name):
                found.add(node.id)
            elif isinstance(node, ast.Attribute):
                found.add(node.attr)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                found.add(node.value.rpartition(".")[2])
    return found


@cache
def reached(room: str) -> set[str]:
    """What the tests of a room name."""
    return set().union(*(named_in(path.read_text("utf-8")) for path in (TESTS / room).rglob("test_*.py")))


@pytest.mark.parametrize(("module", "name"), CAPS, ids=[f"{module.__name__}.{name}" for module, name in CAPS])
def test_a_test_reaches_it(module: ModuleType, name: str):
    assert any(name in reached(room) for room in ROOMS[module]), f"no test reaches {name} of {module.__name__}"


@pytest.mark.parametrize("module", ROOMS, ids=lambda module: module.__name__)
def test_each_is_used(module: ModuleType):
    """A bound that nothing keeps is none."""
    code = (Path(module.__file__ or "").parents[1]).rglob("*.py")
    told = [path.read_text("utf-8") for path in code if path.name not in ("limits.py", "bounds.py")]
    names = [name for one, name in CAPS if one is module]
    assert [name for name in names if not any(name in text for text in told)] == []


def test_what_does_not_count():
    source = '''
from catalogue.formats.limits import MAX_IMPORTED
def helper(): return MAX_HELPED
def test_one(monkeypatch):
    """MAX_SAID is only said."""
    # MAX_NOTED
    monkeypatch.setattr("catalogue.formats.x.MAX_SET", 1)
    assert limits.MAX_MET
'''
    found = named_in(source)
    assert {"MAX_SET", "MAX_MET"} <= found
    assert not found & {"MAX_IMPORTED", "MAX_HELPED", "MAX_SAID", "MAX_NOTED"}
    assert len(CAPS) > 90
