"""The names a kit's files will have on a medium, before anything is written."""

from __future__ import annotations

from catalogue.media import plan
from catalogue.media.plan import Plan
from catalogue.shapes.kit import Kit
from catalogue.store import Store
from catalogue.tasks import known
from catalogue.tasks.context import Context


def run(context: Context, kit: Kit) -> Plan:
    """The folder's short code and an 8.3 name for every piece. Raises BadCall where the family is no longer known."""
    with Store.open(context.catalogue) as store:
        of = known.named(context, store, kit.family)
    return plan.plan(kit, of)
