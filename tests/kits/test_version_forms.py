"""family-file.md: equal forms of a version are interchangeable, in every place where versions are compared.

Those places: a piece's own version; a release's version, `same`, from and to; a role's lowest; what was withdrawn.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.families.model import Claim
from catalogue.kits.version_order import order
from tests.kits.host_plants import PLANTS
from tests.kits.world import Scene, all_of, bittern, chosen, heron, plover

NUMBER = re.compile(r"[0-9]+")
WRITE = Callable[[str], str]


def forms(draw: st.DrawFn, names: str) -> WRITE:
    """A way to write a version otherwise, drawn anew for each."""

    def write(version: str) -> str:
        if names == "numeric":
            widths = st.integers(0, 2)
            said = NUMBER.sub(lambda run: "0" * draw(widths) + run[0], version)
            said += draw(st.sampled_from(["", ".0", ".00"])) if said[-1:].isdigit() else ""
        elif names == "semver":
            said = version + draw(st.sampled_from(["", "+build.7"])) if order(names).speaks_of(version) else version
        else:
            said = version
        assert order(names).same(said, version)
        return said

    return write


def rewritten(scene: Scene, write: WRITE) -> Scene:
    """The same scene with every version in another form."""

    def maybe(version: str | None) -> str | None:
        return None if version is None else write(version)

    def claim(one: Claim) -> Claim:
        same = tuple(map(write, one.same)) if scene.family.order == "numeric" else one.same
        return replace(one, version=maybe(one.version), same=same, least=maybe(one.least), most=maybe(one.most))

    patterns = {role.version for role in scene.family.roles.values() if role.version}
    for key, one in scene.pieces.items():
        matches = {
            text: replace(match, value=write(match.value)) if text in patterns and match.value else match
            for text, match in one.matches.items()
        }
        scene.pieces[key] = replace(one, matches=matches)
    scene.edit(
        roles={name: replace(role, lowest=maybe(role.lowest)) for name, role in scene.family.roles.items()},
        releases=tuple(
            replace(one, claims={role: claim(said) for role, said in one.claims.items()})
            for one in scene.family.releases
        ),
        withdrawn=tuple(replace(one, version=maybe(one.version)) for one in scene.family.withdrawn),
    )
    return scene


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_other_forms_of_every_version_change_neither_choice_nor_findings(data):
    def make() -> Scene:
        if at < 0:
            return (bittern, heron, plover)[-at - 1]()
        scene = PLANTS[at].make()
        PLANTS[at].do(scene)
        return scene

    at = data.draw(st.integers(-3, len(PLANTS) - 1))
    plain, other = make(), make()
    rewritten(other, forms(data.draw, other.family.order))
    mine, theirs = plain.judge(), other.judge()
    assert (mine.verdict, chosen(mine), all_of(mine)) == (theirs.verdict, chosen(theirs), all_of(theirs))
    assert [(one.role, one.fit, one.vouch, one.age) for one in mine.roles] == [
        (one.role, one.fit, one.vouch, one.age) for one in theirs.roles
    ]
