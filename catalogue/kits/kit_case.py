"""A choice as the kit's own rules look at it."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.kits.asked import Asked
from catalogue.kits.choose import Choice, Pick
from catalogue.kits.words import Words


@dataclass(frozen=True, slots=True)
class KitCase:
    """What was asked, what was chosen, which words were given."""

    asked: Asked
    choice: Choice
    words: Words

    @property
    def picks(self) -> tuple[Pick, ...]:
        """One for each role, in the route's order."""
        return self.choice.picks

    def role_line(self, role: str) -> str:
        """The role's line in the family file."""
        return self.asked.line(f"role.{role}")
