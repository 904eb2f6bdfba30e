"""A thousand near candidates for each role are judged at once, whatever is wrong with them."""

from __future__ import annotations

import time
from dataclasses import replace

from catalogue.shapes.reading import Fault
from tests.kits.world import Scene, bittern, chosen, found, sha

MANY = 1_000
SECONDS_A_ROLE = 0.4
"""Generous, in processor time: measured 0.09 on a machine with three times more work than cores."""


def crowded() -> Scene:
    scene = bittern()
    for role, key in scene.roles.items():
        good = scene.of(role)
        pattern = scene.family.roles[role].version
        for number in range(MANY):
            texts = {**good.matches, **(found((pattern, f"1.{number}")) if pattern is not None else {})}
            faults = (Fault("crc", "damaged"),) if number % 3 == 0 else ()
            scene.pieces[f"{key} {number}"] = replace(
                good, sha256=sha(f"{key} {number}"), matches=texts, vouches=(), member_faults=faults
            )
    return scene


def test_a_thousand_candidates_a_role():
    scene = crowded()
    question = scene.question()
    assert len(question.candidates) > 5 * MANY
    began = time.process_time()
    kit = scene.judge()
    took = time.process_time() - began
    assert chosen(kit) == chosen(bittern().judge())
    assert kit.verdict == "ready"
    assert took < SECONDS_A_ROLE * len(scene.roles), f"{took:.2f} s"
