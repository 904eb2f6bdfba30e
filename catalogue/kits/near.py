"""Whether a piece is near a role: near enough that its fate belongs into the kit.

Decisions on sentences of the contract:
- "Archives are never near": by no criterion and no digest. One that a person pins is taken all the same, so that the
  kit says what it is (`wrong-kind`, `pin-broken`).
- "An ID of any of the family's modes": or one that the role itself lists.
- Half-way states are no modes.
"""

from __future__ import annotations

from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.criteria import asked_images
from catalogue.kits.images import Image


def is_near(asked: Asked, wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> bool:
    """Whether `candidate` is near the role `wanted`; `images` are its images."""
    role = wanted.role
    pins = asked.pins.get(role.name)
    if pins and any(pin.sha256 == candidate.sha256 for pin in pins):
        return True
    if candidate.kind.startswith("archive/"):
        return False
    if candidate.sha256 in wanted.known.digests:
        return True
    for text in role.has.values():
        if text in candidate.matches:
            return True
    if images and wanted.near and any(not one.cards.isdisjoint(wanted.near) for one in asked_images(wanted, images)):
        return True
    if wanted.layout is None:
        return False
    answer = candidate.layouts.get(wanted.layout.name)
    if answer is not None and answer.state != "other":
        return True
    return candidate.size == wanted.layout.size and candidate.fill is not None
