"""The migrations make the same tables as the metadata, and the list of revisions is that of the files."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from catalogue.store import Store, version

VERSIONS = Path(version.__file__).parent / "migrations" / "versions"


def schema(path: Path) -> dict[str, tuple[str, ...]]:
    """Every table, index and column as SQLite describes them, but for Alembic's own."""
    with sqlite3.connect(path) as raw:
        found: dict[str, tuple[str, ...]] = {}
        for kind, name, sql in raw.execute("SELECT type, name, sql FROM sqlite_master"):
            if name.startswith(("sqlite_autoindex", "search_index_", "alembic")):
                continue
            if kind == "index":
                found[name] = (" ".join(sql.split()),)
                continue
            columns = raw.execute(f"SELECT name, type, \"notnull\", pk FROM pragma_table_info('{name}')").fetchall()
            keys = raw.execute(
                f'SELECT "from", "table", "to", on_delete FROM pragma_foreign_key_list(\'{name}\') ORDER BY 1'
            ).fetchall()
            uniques = sorted(
                tuple(row[0] for row in raw.execute(f"SELECT name FROM pragma_index_info('{one[1]}')"))
                for one in raw.execute(f"SELECT * FROM pragma_index_list('{name}')")
                if one[2]
            )
            rowid = "WITHOUT ROWID" in sql.upper()
            found[name] = (repr(columns), repr(keys), repr(uniques), repr(rowid), sql if "VIRTUAL" in sql else "")
    raw.close()
    return found


def test_migrations_make_what_the_metadata_makes(tmp_path: Path) -> None:
    Store.open(str(tmp_path / "fresh.sqlite")).close()
    engine = create_engine(f"sqlite:///{tmp_path}/migrated.sqlite")
    with engine.begin() as connection:
        version.upgrade(connection)
        assert version.current(connection) == version.HEAD
    engine.dispose()
    fresh, migrated = schema(tmp_path / "fresh.sqlite"), schema(tmp_path / "migrated.sqlite")
    assert set(fresh) == set(migrated)
    assert len(fresh) > 25
    for name, described in fresh.items():
        assert described == migrated[name], name


def test_a_migrated_catalogue_works(tmp_path: Path) -> None:
    where = tmp_path / "migrated.sqlite"
    engine = create_engine(f"sqlite:///{where}")
    with engine.begin() as connection:
        version.upgrade(connection)
    engine.dispose()
    with Store.open(str(where)) as store:
        store.accept_family("heron", "00" * 32)
        assert list(store.all_pieces()) == []


def test_revisions_are_the_files() -> None:
    told: dict[str, str | None] = {}
    for file in VERSIONS.glob("r*.py"):
        text = file.read_text()
        revision = re.search(r'^revision = "(\w+)"', text, re.M)
        before = re.search(r'^down_revision = (?:"(\w+)"|None)', text, re.M)
        assert revision is not None
        assert before is not None
        told[revision[1]] = before[1]
    ordered: list[str] = []
    following: str | None = None
    while len(ordered) < len(told):
        following = next(revision for revision, before in told.items() if before == following)
        ordered.append(following)
    assert tuple(ordered) == version.REVISIONS


@pytest.mark.parametrize("at", [None, version.HEAD])
def test_known_revisions_pass(at: str | None) -> None:
    version.check(at, "x")
