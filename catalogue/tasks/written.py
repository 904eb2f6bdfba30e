"""The kits that were written out from this catalogue."""

from __future__ import annotations

import json

from catalogue.shapes.from_json import NotAKit, from_json_kit
from catalogue.shapes.results import WrittenKit
from catalogue.store import Store
from catalogue.tasks.context import Context

MOST = 500
"""Write-outs that are listed, the newest."""


def run(context: Context) -> list[WrittenKit]:
    """What was written where and when, the newest first."""
    with Store.open(context.catalogue) as store:
        rows = store.kits_written()[:MOST]
    made = []
    for kit_id, target, when, body in rows:
        try:
            kit = from_json_kit(json.loads(body))
        except (NotAKit, ValueError):
            continue
        made.append(WrittenKit(kit_id, kit.family, kit.family_title, kit.route, target, when))
    return made
