"""The table of rules on the kit as a whole, in the contract's order.

Decisions on sentences of the contract:
- `role-empty` is silent where candidates tie (`ambiguous` speaks) and where a pin left the role empty (`pin-broken`).
- `ambiguous` names every tied piece in a finding of its own, since a word names one content. Two words that pick two of
  them settle nothing, and then nothing is cleared.
- `mixed-release`: two pieces belong together where one release claims one of them and claims the other or does not
  list its role ("roles not listed are free"). The stricter `mix` of all releases that claim either counts. Of two
  releases of one day the one whose role stands later in the route counts as the older.
- `never-ran` and `not-checked` are about the route; `knowledge-old` counts a year as the same day a year later.
"""

from __future__ import annotations

from catalogue.kits import rules_card, rules_kit, rules_roles
from catalogue.kits.kit_case import KitCase
from catalogue.kits.rule import Rule

KIT_RULES: tuple[Rule[KitCase], ...] = (*rules_roles.RULES, *rules_kit.RULES, *rules_card.RULES)
