"""`python -m sample_bundles FOLDER`: make the demo's downloads; `--list` says what each thing is there for."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from sample_bundles.make import make


def main(arguments: list[str] | None = None) -> int:
    """Exit 0 when all lies there, 1 where something else stands in the way or the disk does not allow it."""
    parser = argparse.ArgumentParser(prog="python -m sample_bundles", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--list", action="store_true", help="say what each thing is there for")
    called = parser.parse_args(arguments)
    try:
        made = make(called.folder)
    except OSError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    if called.list:
        for one in made.pieces:
            place = " › ".join((str(one.path.relative_to(made.folder)), *one.inside))
            sys.stdout.write(f"{one.sha256}  {place}: {one.what}{''.join(f' [{code}]' for code in one.tempts)}\n")
    sys.stdout.write(f"{made.written} files written, {made.kept} kept, under {made.folder}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
