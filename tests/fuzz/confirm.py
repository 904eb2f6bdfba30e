"""What fuzzing brought home, tried again without its instruments; what is true is made small and kept.

`python -m tests.fuzz.confirm TARGET FOLDER [FOUND]`: reads FOLDER/broken and FOLDER/ended, empties both, writes cases
into FOUND (tests/fuzz/found) and names them.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.fuzz import cases, minimise, promise, targets
from tests.fuzz.target import Target

ADDRESSES = 2 << 30
SECONDS = 60
"""How long one case is made smaller."""


def confirmed(target: Target, inputs: list[bytes], seconds: float = SECONDS) -> list[cases.Case]:
    """The inputs that break the promise here too, the smallest of each mark, made small."""
    best: dict[str, bytes] = {}
    for data in inputs:
        wrong = promise.hold(target.run, data)
        if wrong is not None and (wrong.mark not in best or len(data) < len(best[wrong.mark])):
            best[wrong.mark] = data
    out = []
    for mark, data in best.items():

        def still(tried: bytes, mark: str = mark) -> bool:
            wrong = promise.hold(target.run, tried)
            return wrong is not None and wrong.mark == mark

        small = minimise.smaller(data, still, seconds)
        wrong = promise.hold(target.run, small)
        out.append(cases.Case(target.name, wrong.text if wrong else mark, small if wrong else data))
    return out


def main(name: str, folder: Path, found: Path) -> None:
    """Confirm what lies in a campaign's folder for one target."""
    waiting = [path for part in ("broken", "ended") for path in sorted((folder / part).glob("*"))]
    inputs = [
        cases.load(one.read_text("ascii")).data if one.parent.name == "broken" else one.read_bytes() for one in waiting
    ]
    for case in confirmed(targets.every()[name], inputs):
        print(f"  kept {cases.keep(case, found).name}: {case.showed}")
    for one in waiting:
        one.unlink()


if __name__ == "__main__":
    promise.limit_memory(ADDRESSES)
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]) if len(sys.argv) > 3 else cases.FOUND)
