"""What one command is: a row of the table in `catalogue.cli.commands`."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from dataclasses import dataclass

from catalogue.shapes.progress import Progress
from catalogue.tasks.context import Context


@dataclass(frozen=True, slots=True)
class Answer:
    """What a command prints: the value as JSON (any shape, or plain data), or the lines for a person; and its exit.

    `told` are lines about the surroundings, for standard error.
    """

    value: object
    lines: tuple[str, ...]
    exit: int = 0
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Command:
    """One verb. `run` imports its task only when called, so that help stays quick."""

    name: str
    help: str
    exits: str
    arguments: Callable[[ArgumentParser], None]
    run: Callable[[Namespace, Context, Progress], Answer]
