"""The README's table of what is read, made from the table in code: `python -m tests.formats.readme_table` writes it."""

from pathlib import Path

from catalogue.formats import READERS

README = Path(__file__).resolve().parents[2] / "README.md"
BEGIN = "<!-- formats: made by tests/formats/readme_table.py from the table in catalogue/formats -->"
END = "<!-- end of formats -->"


def table() -> str:
    """The table's lines, marks included."""
    rows = [f"| {reader.name} | {reader.depth} | {reader.source} |" for reader in READERS]
    return "\n".join([BEGIN, "| format | what is read | by |", "|---|---|---|", *rows, END])


def replaced(text: str) -> str:
    """`text` with its table made anew."""
    before, _, rest = text.partition(BEGIN)
    return before + table() + rest.partition(END)[2]


if __name__ == "__main__":
    README.write_text(replaced(README.read_text(encoding="utf-8")), encoding="utf-8")
