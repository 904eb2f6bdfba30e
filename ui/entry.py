"""The command `kitproof`: the command line when it is given a command, else the window.

Nothing of Qt is imported until the window is wanted.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Sequence
from dataclasses import dataclass

VALUED = ("--catalogue", "--families")
PLAIN = ("--debug",)


@dataclass(frozen=True, slots=True)
class WindowCall:
    """What the window was started with: only global options, no command."""

    catalogue: str | None = None
    families: tuple[str, ...] = ()
    debug: bool = False


def window_call(argv: Sequence[str]) -> WindowCall | None:
    """The window's options, or None where `argv` is for the command line (a command, --help, anything else)."""
    catalogue: str | None = None
    families: list[str] = []
    debug = False
    rest = list(argv)
    while rest:
        word = rest.pop(0)
        name, equals, value = word.partition("=")
        if name in VALUED:
            if not equals:
                if not rest:
                    return None
                value = rest.pop(0)
            if name == "--catalogue":
                catalogue = value
            else:
                families.append(value)
        elif word in PLAIN:
            debug = True
        else:
            return None
    return WindowCall(catalogue, tuple(families), debug)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line or open the window; returns the exit code of the command line's contract."""
    given = list(sys.argv[1:] if argv is None else argv)
    call = window_call(given)
    if call is None:
        gc.set_threshold(200_000, 50, 100)  # imports and indexing make many lasting objects and hardly any garbage
        from catalogue.cli import main as command_line

        return command_line(given)
    gc.disable()  # imports make many lasting objects and no garbage; measured in milliseconds of the first paint
    from ui.start import run

    return run(call)


if __name__ == "__main__":
    raise SystemExit(main())
