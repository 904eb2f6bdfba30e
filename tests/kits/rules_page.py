"""The manual's page of all rules, made from their tables: `python -m tests.kits.rules_page` writes it."""

from __future__ import annotations

from pathlib import Path

from catalogue.shapes.manual import RuleManual
from catalogue.tasks import rules

PAGE = Path(__file__).resolve().parents[2] / "resources" / "manual" / "rules.md"
HEAD = """\
# The rules

<!-- made by tests/kits/rules_page.py from the tables in catalogue/kits and catalogue/media; do not edit it by hand -->

Every kit and every medium is judged by these rules. A *stop* keeps a kit from being ready; some stops a person may
clear by giving their word, with a reason and a name. A *caution* travels with the kit, a *note* is worth knowing. Each
rule must leave some cases alone: they stand here as *fine*. `kitproof rules CODE` says the same on the command line,
and so does *About this rule* beside a finding in the window.

The card's own rules (its identity, its backups, the comparison after the conversion) are not part of the program yet.
"""


def page() -> str:
    """The whole page."""
    parts = [HEAD]
    for name, manuals in rules.tables():
        parts += [f"## {name}\n", "| code | level | what it says |\n|---|---|---|"]
        parts += [f"| [{one.code}](#{one.code}) | {one.level.replace('; a', ', a')} | {one.title} |" for one in manuals]
        parts += [""]
        parts += [_rule(one) for one in manuals]
    return "\n".join(parts).rstrip("\n") + "\n"


def _rule(one: RuleManual) -> str:
    lines = [f"### {one.code}\n", one.catches, ""]
    if one.more:
        lines += [one.more, ""]
    lines += [f"- *Level:* {one.level}.", f"- *Fine:* {one.fine}"]
    lines += [f"- *{label}:* {text}" for label, text in one.cases]
    lines += [f"- *Looks at:* {one.looks_at}", f"- *What to do:* {one.remedy}", f"- *Source:* {one.source}.", ""]
    return "\n".join(lines)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
