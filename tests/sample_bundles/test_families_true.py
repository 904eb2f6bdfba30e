"""The shipped family files speak of the bytes that the demo makes: no digest is stale, none is missing."""

from __future__ import annotations

import tomllib
from hashlib import sha256
from pathlib import Path

import pytest

import resources
from sample_bundles.scene import scene

FOLDER = Path(resources.__file__).parent / "families"
FILES = ("corvane-bittern", "corvane-heron", "brinewell-plover")


def made() -> dict[str, list]:
    by_digest: dict[str, list] = {}
    for item in scene():
        for _, one in item.walk():
            by_digest.setdefault(sha256(one.data).hexdigest(), []).append(one)
    return by_digest


def claims(family: dict) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for release in family["release"]:
        for role, claim in release.items():
            if isinstance(claim, dict):
                found.setdefault(role, set()).update(claim.get("sha256", ()))
    return found


@pytest.mark.parametrize("name", FILES)
def test_every_digest_is_of_a_piece_made_for_that_role(name):
    family = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    pieces = made()
    for role, digests in claims(family).items():
        for digest in digests:
            assert any(one.family == name and role in one.roles for one in pieces[digest]), (role, digest)
    for row in family["withdrawn"]:
        if "sha256" in row:
            assert any("withdrawn" in one.tempts for one in pieces[row["sha256"]])


@pytest.mark.parametrize("name", FILES)
def test_every_good_piece_that_is_written_is_named(name):
    family = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    named = claims(family)
    good = [one for found in made().values() for one in found if one.family == name and one.good]
    assert good
    for one in good:
        for role in one.roles:
            if family["role"][role].get("written"):
                assert sha256(one.data).hexdigest() in named[role], one.name


@pytest.mark.parametrize("name", FILES)
def test_the_file_says_that_maker_and_ids_are_invented(name):
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    assert "invented and not registered" in " ".join(line.lstrip("# ") for line in text.splitlines()[:5])
