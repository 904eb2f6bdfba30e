"""Which form a catalogue's tables have. Alembic is imported only when they are not the newest."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from catalogue.errors import NotWorkable
from catalogue.store import tables

REVISIONS = ("0001", "0002", "0003", "0004", "0005")
"""Every revision in migrations/versions, oldest first; a test compares them with the files."""
HEAD = REVISIONS[-1]
VERSION_TABLE = "alembic_version"


def current(connection: Connection) -> str | None:
    """The revision the tables are at; None for an empty database. Plain SQL, no Alembic."""
    if connection.dialect.name == "sqlite":
        names = set(connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type='table'").scalars())
    else:
        names = set(inspect(connection).get_table_names())
    if not names:
        return None
    if VERSION_TABLE not in names or not {"piece", "folder"} <= names:
        return ""
    found = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalars().all()  # noqa: S608 (a constant)
    return str(found[0]) if len(found) == 1 else ""


def check(revision: str | None, name: str) -> None:
    """Raise NotWorkable for a database that is not a catalogue, or one of a newer program."""
    if revision == "":
        raise NotWorkable(
            f"{name} is a database of some other program. Name another file with --catalogue; this one was not touched."
        )
    if revision is not None and revision not in REVISIONS:
        raise NotWorkable(
            f"The catalogue {name} was made by a newer version of this program ({revision}). Install that version, "
            "or name another catalogue with --catalogue."
        )


def create(connection: Connection) -> None:
    """Make every table in an empty database and mark it as the newest form."""
    tables.META.create_all(connection)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(tables.SEARCH_INDEX)
    else:
        for statement in tables.SEARCH_INDEX_POSTGRESQL:
            connection.exec_driver_sql(statement)
    connection.execute(
        text(
            f"CREATE TABLE {VERSION_TABLE} (version_num VARCHAR(32) NOT NULL, "
            f"CONSTRAINT {VERSION_TABLE}_pkc PRIMARY KEY (version_num))"
        )
    )
    connection.execute(text(f"INSERT INTO {VERSION_TABLE} VALUES (:head)"), {"head": HEAD})  # noqa: S608 (a constant)


def upgrade(connection: Connection) -> None:
    """Bring older tables to the newest form, in the caller's transaction."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
