"""The contract's own example (family-file.md), with digests for its placeholders, and faults planted in it."""

from __future__ import annotations

from pathlib import Path

from catalogue.families.load import Loaded, load_file

FILE = Path(__file__).with_name("contract_sample.toml")
TEXT = FILE.read_text(encoding="utf-8")


def load_text(folder: Path, text: str | bytes, name: str = "family.toml") -> Loaded:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return load_file(path)


def planted(*changes: tuple[str, str]) -> str:
    """The example with each first text replaced by the second; each must stand there exactly once."""
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, f"{text.count(old)} times: {old}"
        text = text.replace(old, new)
    return text


def line_of(text: str, part: str) -> int:
    """The line on which `part` stands, once."""
    assert text.count(part) == 1, f"{text.count(part)} times: {part}"
    return text[: text.index(part)].count("\n") + 1


def told(loaded: Loaded) -> list[tuple[int, str]]:
    return [(one.line, one.text) for one in loaded.problems]
