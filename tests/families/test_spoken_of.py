"""Loading only the families asked after gives what loading all gives for them, whatever else lies in the folders."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from catalogue.families import match
from catalogue.families.library import load
from catalogue.families.shown import parse
from catalogue.families.spoken_of import Asked, speaking
from tests.families.sample import TEXT, planted

IDS = ("alpha", "alpha-2", "beta", "gamma")


def family(id_: str, device: str, escaped: bool) -> str:
    shown = "".join(f"\\u{ord(one):04x}" for one in f"F234:{device}") if escaped else f"f234:{device}"
    return planted(('id = "corvane-bittern"', f'id = "{id_}"'), ('ids = ["F234:0C80"]', f'ids = ["{shown}"]'))


def variant(id_: str, base: str) -> str:
    own = f"schema = 1\nid = '''\n{id_}'''\ntitle = 'V'\nas_of = 2026-03-01\n"
    return f"{own}extends = '{base}'\nsubsystems = ['F567:0001']\n"


FILES = st.lists(
    st.one_of(
        st.builds(family, st.sampled_from(IDS), st.sampled_from(("0c80", "0c84")), st.booleans()),
        st.builds(variant, st.sampled_from(IDS), st.sampled_from(IDS)),
        st.sampled_from(("id = \"alpha\"\nnot toml", "", "\xff\xfe", "title = \"F234:0C80\"")),
    ),
    min_size=1,
    max_size=5,
)


@settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(texts=FILES, shown=st.sampled_from(("F234:0C80", "F234:0C84", "F234:0C80 F567:0001")), accept=st.booleans())
def test_as_if_all_were_loaded(tmp_path: Path, texts: list[str], shown: str, accept: bool) -> None:
    """The answers of find-family, and each family by its id, settled or not, are those of the whole library."""
    mine, shipped = tmp_path / "mine", tmp_path / "shipped"
    for folder in (mine, shipped):
        folder.mkdir(exist_ok=True)
    for old in mine.iterdir():
        old.unlink()
    for number, text in enumerate(texts):
        (mine / f"{number}.toml").write_text(text, encoding="utf-8")
    sums = frozenset(hashlib.sha256(one.read_bytes()).hexdigest() for one in mine.iterdir()) if accept else frozenset()
    accepted = dict.fromkeys(IDS, sums)
    whole = load([mine], shipped, accepted).families
    cards = parse(shown)
    about = Asked(cards=frozenset((one.vendor, one.device) for one in cards))
    few = load([mine], shipped, accepted, about).families
    assert match.families_for(cards, few) == match.families_for(cards, whole)
    assert all(whole[name] == one for name, one in few.items())
    for name in IDS:
        assert load([mine], shipped, accepted, Asked(ids=frozenset({name}))).families.get(name) == whole.get(name)


def test_what_does_not_speak_of_it_is_not_taken(tmp_path: Path) -> None:
    for number in range(4):
        text = planted(('id = "corvane-bittern"', f'id = "bittern-{number}"'), ("F234:0C80", f"F234:1C8{number}"))
        (tmp_path / f"{number}.toml").write_text(text)
    files = sorted(tmp_path.iterdir())
    assert speaking(files, Asked(cards=frozenset({(0xF234, 0x1C82)}))) == {files[2]}
    many = Asked(cards=frozenset((0xF234, 0x2000 + number) for number in range(20)) | {(0xF234, 0x1C82)})
    assert speaking(files, many) == {files[2]}
    assert speaking(files, Asked(ids=frozenset({"bittern-1"}))) == {files[1]}
    assert speaking(files, Asked(ids=frozenset({"bittern-", "\udcff"}))) == set()


@pytest.mark.parametrize("text", [f"{TEXT}# {escape}" for escape in ("\\u0041", "\\U00000041", "\\\n")])
def test_a_file_with_escapes_that_spell_letters_is_always_taken(tmp_path: Path, text: str) -> None:
    file = tmp_path / "one.toml"
    file.write_text(text)
    assert speaking([file, tmp_path / "gone.toml"], Asked()) == {file, tmp_path / "gone.toml"}
