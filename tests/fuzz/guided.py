"""One process that fuzzes one target by the coverage it reaches (PyPI `atheris`), until its time is over.

`python -m tests.fuzz.guided TARGET FOLDER SECONDS [RUNS]`; the campaign starts it. What breaks the promise is written
to FOLDER/broken as a case and fuzzing goes on; FOLDER/corpus grows. An input that never comes back, or takes too much
memory, ends the process: it then lies in FOLDER/ended.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections import Counter
from pathlib import Path

INSTRUMENTED = (
    *(f"catalogue.{room}" for room in ("formats", "intake", "families", "media", "shapes", "store.reading_text")),
    *("pefile", "elftools", "tomllib"),
)
LATE = ("pefile", "elftools.elf.elffile", "catalogue.formats.certificates", "catalogue.formats.signer_proof")
"""Imported by readers where they are used; what is imported later is not instrumented."""
SLOWED = 4.0
"""Instrumented code takes so many times as long; what seems slow is measured again without."""
HANG_SECONDS = 25
RSS_MB = 900
"""The library and the instrumented code take about 200 MB themselves; finer is measured an input at a time."""
A_MARK = 3
"""Cases kept of one mark: the first ones are rarely the smallest."""


def able() -> bool:
    """Whether the library is here (it has wheels for Linux and macOS)."""
    return importlib.util.find_spec("atheris") is not None


def main(name: str, folder: Path, seconds: int, runs: int = -1) -> None:
    """Fuzz one target; ends the process. With a number of runs they are the same on every machine: no real files."""
    import atheris

    with atheris.instrument_imports(include=list(INSTRUMENTED), enable_loader_override=False):
        for library in LATE:
            importlib.import_module(library)
        from tests.fuzz import cases, promise, targets

    target = targets.every(real_too=runs < 0)[name]
    corpus, broken, ended = (folder / part for part in ("corpus", "broken", "ended"))
    for one in (corpus, broken, ended):
        one.mkdir(parents=True, exist_ok=True)
    if not any(corpus.iterdir()):
        for number, data in enumerate(target.seeds()):
            (corpus / f"seed{number}").write_bytes(data)
    marks: Counter[str] = Counter()

    def one_input(data: bytes) -> None:
        wrong = promise.hold(target.run, data, slow=SLOWED, tries=1)
        if wrong is not None:
            marks[wrong.mark] += 1
            if marks[wrong.mark] <= A_MARK:
                cases.keep(cases.Case(name, wrong.text, data), broken)

    longest = max(len(one) for one in target.seeds())
    options = [
        f"-max_total_time={seconds}",
        f"-runs={runs}",
        f"-timeout={HANG_SECONDS}",
        f"-rss_limit_mb={RSS_MB}",
        f"-max_len={max(4096, min(longest * 2, 256 << 10))}",
        f"-artifact_prefix={ended}/",
        "-seed=1",
        "-use_value_profile=1",
        "-print_final_stats=1",
        "-len_control=20",
    ]
    atheris.Setup([sys.argv[0], *options, str(corpus)], one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), *map(int, sys.argv[4:5]))
