"""Print how well pieces are told apart: precision and recall a kind, and the table of confusions.

`python -m tests.bench.recognition`: several thousand real files of Debian packages (about 90 MB to fetch, once, into
the temporary folder) and of the PyPI packages installed here. `--small`: the sample that the tests look at.
"""

from __future__ import annotations

import argparse
import time

from tests.reference import recognition


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="the sample that the tests look at")
    small = parser.parse_args().small
    begun = time.process_time()
    packages = recognition.SMALL if small else recognition.LARGE
    table = recognition.measure(packages, most=20 if small else 150, installed=300 if small else 3_000)
    for line in table.lines():
        print(line)
    print(f"{time.process_time() - begun:.0f} s of processor time, `file` apart")


if __name__ == "__main__":
    main()
