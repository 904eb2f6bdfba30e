"""Many rows in few statements.

sqlite3 gives up Python's lock on every row, and beside busy threads an executemany then starves. One statement with
the values of many rows takes the lock back once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import chain
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, literal, text
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

ROWS = 1_000
"""Rows a statement."""
MOST_PARAMETERS = 30_000
"""SQLite takes 32,766 by default (https://sqlite.org/limits.html, 9)."""


@lru_cache(maxsize=256)
def _statement(table: str, columns: tuple[str, ...], same: tuple[tuple[str, int], ...], rows: int, tail: str) -> str:
    names = ", ".join(f'"{column}"' for column in (*columns, *(name for name, _value in same)))
    one = "(" + ",".join(["?"] * len(columns) + [str(value) for _name, value in same]) + ")"
    return f'INSERT INTO "{table}" ({names}) VALUES {",".join([one] * rows)} {tail}'  # noqa: S608 (our own names)


def insert(
    connection: Connection,
    table: Table,
    columns: Sequence[str],
    rows: Sequence[tuple[Any, ...]],
    tail: str = "",
    same: tuple[tuple[str, int], ...] = (),
) -> None:
    """Insert `rows` of `columns`, and the numbers that are the `same` in every row.

    `tail` may be an ON CONFLICT clause, in the words both databases know.
    """
    if not rows:
        return
    names = tuple(columns)
    if connection.dialect.name != "sqlite":
        every = (*names, *(name for name, _value in same))
        values = ", ".join(f":{name}" for name in every)
        listed = ", ".join(f'"{name}"' for name in every)
        sql = f'INSERT INTO "{table.name}" ({listed}) VALUES ({values}) {tail}'  # noqa: S608 (our own names)
        fixed = tuple(value for _name, value in same)
        connection.execute(text(sql), [dict(zip(every, (*row, *fixed), strict=True)) for row in rows])
        return
    most = min(ROWS, MOST_PARAMETERS // len(names))
    for start in range(0, len(rows), most):
        part = rows[start : start + most]
        sql = _statement(table.name, names, same, len(part), tail)
        connection.exec_driver_sql(sql, tuple(chain.from_iterable(part)))


class _Numbers(FunctionElement[int]):
    """The whole numbers of a JSON array, as a query in brackets."""

    inherit_cache = True


@compiles(_Numbers)
def _numbers(element: _Numbers, compiler: SQLCompiler, **how: Any) -> str:  # noqa: ANN401 (SQLAlchemy's own signature)
    (array,) = (compiler.process(one, **how) for one in element.clauses)
    return f"(SELECT CAST(n AS INTEGER) FROM json_array_elements_text(CAST({array} AS JSON)) AS n)"  # noqa: S608


@compiles(_Numbers, "sqlite")
def _numbers_sqlite(element: _Numbers, compiler: SQLCompiler, **how: Any) -> str:  # noqa: ANN401
    (array,) = (compiler.process(one, **how) for one in element.clauses)
    return f"(SELECT value FROM json_each({array}))"  # noqa: S608


def among(column: ColumnElement[int] | ColumnElement[int | None], numbers: Iterable[int]) -> ColumnElement[bool]:
    """`column` is one of `numbers`, as one parameter: a statement for every length, compiled once.

    (A list of parameters is written out anew each time, which takes longer than the query itself.)
    """
    array = literal("[" + ",".join(map(str, numbers)) + "]")
    return column.op("IN", is_comparison=True)(_Numbers(array))


def batches(values: Iterable[Any], size: int = ROWS) -> Iterable[list[Any]]:
    """`values` in lists of at most `size`."""
    batch: list[Any] = []
    for value in values:
        batch.append(value)
        if len(batch) == size:
            yield batch
            batch = []
    if batch:
        yield batch
