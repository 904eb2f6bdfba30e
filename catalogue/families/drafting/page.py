"""The lines of a draft as they are written: no value leaves its quotes, no comment its line."""

from __future__ import annotations

from collections.abc import Iterable

from catalogue.shapes.draft import Ask, DraftedLine
from catalogue.shapes.visible import visible

MOST_TEXT = 400
MOST_COMMENT = 300
MOST_ASKS = 400


def quote(text: str) -> str:
    """`text` as a TOML basic string (TOML 1.0.0, "String"): unseen characters as escapes, never a line end."""
    shown = visible(text, MOST_TEXT).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{shown}"'


def quotes(texts: Iterable[str]) -> str:
    """A list of texts."""
    return f"[{', '.join(map(quote, texts))}]"


class Page:
    """Gathers the lines and the open questions, in the order of the file."""

    def __init__(self) -> None:
        self.rows: list[tuple[str, str]] = []
        self.asks: dict[str, Ask] = {}

    def put(self, text: str, source: str = "") -> None:
        """One line, and where it was read from ("" where it is only the form of the file)."""
        assert "\n" not in text
        self.rows.append((text, visible(source, MOST_COMMENT).strip()))

    def note(self, text: str) -> None:
        """A line of comment."""
        self.rows.append((f"# {visible(text, MOST_COMMENT)}", ""))

    def ask(self, key: str, about: str, why: str, how: str) -> None:
        """An open question: a comment where its answer belongs, and an entry that keeps the file unsettled."""
        if key in self.asks or len(self.asks) >= MOST_ASKS:
            return
        one = Ask(key, visible(about, MOST_COMMENT), visible(why, MOST_COMMENT), visible(how, MOST_COMMENT))
        self.asks[key] = one
        self.rows += [(f"# ask: {key}: {one.about}", ""), (f"#   why: {one.why}", ""), (f"#   how: {one.how}", "")]

    def finished(self, head: Page) -> tuple[str, tuple[DraftedLine, ...]]:
        """The whole text, with the rows of `head` and the list of open questions before this page's."""
        entries = [("asks = [", ""), *((f"  {quote(key)},", "") for key in (*head.asks, *self.asks)), ("]", "")]
        rows = [*head.rows, *entries, ("", ""), *self.rows]
        lines = [f"{text}  # from {source}" if source else text for text, source in rows]
        inferred = [DraftedLine(n, text.strip(), source) for n, (text, source) in enumerate(rows, 1) if source]
        return "\n".join(lines) + "\n", tuple(inferred)
