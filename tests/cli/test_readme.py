"""The README keeps its promises: what it links to is there, what it tells to run exists."""

import re
from pathlib import Path

from catalogue.cli.commands import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_link_leads_somewhere() -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", TEXT)
    assert any(link.endswith(".png") for link in links)
    assert [link for link in links if not (ROOT / link).is_file()] == []


def test_every_command_it_names_is_one() -> None:
    named = set(re.findall(r"(?:\$K|`kitproof) ([a-z-]+)", TEXT))
    assert named
    assert named <= {command.name for command in COMMANDS}


def test_ci_calls_the_test_command_that_the_readme_gives() -> None:
    assert "tests/run" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "\ntests/run " in TEXT
