"""Where a catalogue lies, and connections to it."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import platformdirs
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError
from sqlalchemy.pool import QueuePool

from catalogue.errors import BadCall, NotWorkable

FILE_NAME = "catalogue.sqlite"
BUSY_SECONDS = 10
"""How long a write waits for another program's."""
WRITES = "catalogue_writes"
"""Execution option of a connection whose transaction will write."""


@dataclass(frozen=True, slots=True)
class Where:
    """`file` is the SQLite file, None for a database server; `kept` the folder of kept contents; `name` for people."""

    url: str
    file: Path | None
    kept: Path
    name: str


def where(given: str | None) -> Where:
    """The catalogue meant by a path, a URL or (None) by nothing. A folder means the catalogue in it.

    Raises BadCall for a URL that cannot be understood.
    """
    if given is None:
        return _at(Path(platformdirs.user_data_dir("kitproof", appauthor=False)) / FILE_NAME)
    if "://" not in given:
        path = Path(given)
        return _at(path / FILE_NAME if path.is_dir() or given.endswith(("/", os.sep)) else path)
    try:
        url = make_url(given)
        backend = url.get_backend_name()
    except (ArgumentError, NoSuchModuleError) as error:
        raise BadCall(f"The catalogue's address {given} cannot be understood: {error}") from error
    if backend == "sqlite":
        if not url.database or url.database == ":memory:":
            raise BadCall("A catalogue needs a file: sqlite:///PATH.")
        return _at(Path(url.database))
    kept = Path(platformdirs.user_data_dir("kitproof", appauthor=False)) / "kept"
    return Where(given, None, kept, url.render_as_string(hide_password=True))


def _at(path: Path) -> Where:
    path = path.absolute()
    return Where("sqlite", path, path.with_name(path.name + ".kept"), str(path))


def engine(at: Where) -> Engine:
    """An engine for the catalogue; its folder is made. Raises NotWorkable and BadCall.

    Every opening of a catalogue in one process shares its engine, and with it the statements compiled so far.
    """
    if at.file is not None:
        try:
            at.file.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise NotWorkable(f"The catalogue's folder {at.file.parent} cannot be made: {error.strerror}.") from error
    return _engine(at)


@lru_cache(maxsize=8)
def _engine(at: Where) -> Engine:
    if at.file is None:
        try:
            return create_engine(at.url)
        except (ModuleNotFoundError, NoSuchModuleError) as error:
            raise BadCall(f"No driver for {at.name} is installed ({error}).") from error
    made = create_engine("sqlite://", creator=_creator(at.file), poolclass=QueuePool)
    event.listen(made, "begin", _begin)
    return made


def _creator(path: Path) -> Callable[[], sqlite3.Connection]:
    def connect() -> sqlite3.Connection:
        made = sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False)
        try:
            made.execute(f"PRAGMA busy_timeout={BUSY_SECONDS * 1000}")
            made.execute("PRAGMA foreign_keys=ON")
            made.execute("PRAGMA synchronous=NORMAL")
            made.execute("PRAGMA journal_mode=WAL")
            made.execute("PRAGMA cache_size=-32768")
        except BaseException:
            made.close()
            raise
        return made

    return connect


def _begin(connection: Connection) -> None:
    """Begin ourselves: a transaction that will write takes the lock at once, so that it never fails half-way."""
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
