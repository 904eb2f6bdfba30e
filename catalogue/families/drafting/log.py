"""Command lines out of a pasted log, or out of notes that give them: lines that begin with a utility of the folder."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.families.drafting.given import Piece, Text
from catalogue.families.drafting.identities import SERIAL, SeenIdentity
from catalogue.families.drafting.roles import BENCH, WRITER

MOST_STEPS = 100
MOST_LINE = 300
MOST_WORDS = 24
_PROMPT = re.compile(
    r"\s*(?:[A-Za-z]:\\?[^<>|\s]{0,60}>|[A-Za-z]{1,8}[0-9]{0,2}:(?:\\[^<>|\s]{0,60})?>|Shell>|[$#] )\s*"
)
_MADE = re.compile(r"[A-Za-z0-9_-]{1,8}\.[A-Za-z0-9_-]{1,3}")
_REDIRECT = re.compile(r">{1,2}[av]?")


@dataclass(frozen=True, slots=True)
class SeenStep:
    """One command line as a family's template; `makes` is the file it makes, `uses` the roles it names."""

    type: str
    makes: str
    uses: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class SeenRoute:
    """The lines of one utility, in the order of their text. `typed` are spellings of identities, by name."""

    bench: str
    steps: tuple[SeenStep, ...]
    typed: dict[str, tuple[str, ...]]


def seen_routes(
    texts: Iterable[Text],
    roles: dict[str, tuple[Piece, ...]],
    identities: tuple[SeenIdentity, ...],
    slot: str,
    cards: frozenset[str],
) -> tuple[SeenRoute, ...]:
    """One route a bench whose utility's lines stand in a text; `cards` are SHA-256s of what was saved from a card."""
    programs = {form: BENCH[one.kind] for one in roles.get(WRITER, ()) for form in _called(one.name)}
    files: dict[str, tuple[str, ...]] = {}
    for role, held in roles.items():
        for one in held:
            if role != WRITER and one.sha256 not in cards:
                name = one.name.casefold()
                files[name] = tuple(dict.fromkeys((*files.get(name, ()), role)))
    steps: dict[str, list[SeenStep]] = {}
    typed: dict[str, tuple[str, ...]] = {}
    for text in texts:
        for number, line in enumerate(text.lines):
            prompt = _PROMPT.match(line[:MOST_LINE])
            words = line[prompt.end() if prompt else 0 :].split()
            if not words or len(line) > MOST_LINE or len(words) > MOST_WORDS or not line.isascii():
                continue
            bench = programs.get(words[0].casefold().removeprefix("./").rsplit("\\", 1)[-1])
            if bench is None or len(words) < 2 or len(steps.get(bench, ())) >= MOST_STEPS:
                continue
            if not prompt and not _is_command(words, files):
                continue
            step = _step(words, files, identities, slot, text.at(number), typed)
            if step is not None:
                steps.setdefault(bench, []).append(step)
    return tuple(SeenRoute(bench, tuple(found), typed) for bench, found in steps.items())


def _called(name: str) -> tuple[str, ...]:
    low = name.casefold()
    return (low, low.rsplit(".", 1)[0]) if "." in low else (low,)


def _is_command(words: list[str], files: dict[str, tuple[str, ...]]) -> bool:
    """Whether a line without a prompt is one that was typed, and no sentence that begins with the utility's name."""
    if any(_REDIRECT.match(one) or one.casefold() in files for one in words[1:]):
        return not words[-1].endswith((".", ",", ";", ":"))
    return len(words) <= 8 and words[1].islower() and not re.search(r"[.,;:!?]\Z", words[-1]) and words[1] not in _PROSE


_PROSE = {"is", "are", "was", "has", "can", "cannot", "does", "did", "for", "and", "or", "in", "on", "under", "with",
          "needs", "will", "must", "may", "should", "from", "to", "of", "the", "runs", "version"}  # fmt: skip


def _step(
    words: list[str], files: dict[str, tuple[str, ...]], identities: tuple[SeenIdentity, ...], slot: str, source: str,
    typed: dict[str, tuple[str, ...]],
) -> SeenStep | None:
    out, makes, uses = ["{writer}"], "", [WRITER]
    redirected = False
    for word in words[1:]:
        redirect = _REDIRECT.match(word)
        rest = word[redirect.end() :] if redirect else word
        filled = files.get(rest.casefold(), ())
        identity = _identity(rest, identities)
        if "{" in word or "}" in word:
            return None
        if redirect:
            out.append(redirect[0])
        redirected = redirected or bool(redirect)
        if not rest:
            continue
        if filled:  # a file that fills several roles, such as a joined ROM, is typed once
            uses += filled
            out.append(f"{{{filled[0]}}}")
        elif identity:
            typed.setdefault(identity[0], identity[1])
            out.append(f"{{{identity[0]}}}")
        elif slot and rest == slot:
            out.append("{slot}")
        elif _MADE.fullmatch(rest) and (redirected or not makes) and any(map(str.isalpha, rest.rsplit(".", 1)[1])):
            makes = rest.upper()
            out.append("{makes}")
        else:
            out.append(rest)
    if out.count("{makes}") > 1:
        return None
    return SeenStep(" ".join(out), makes, tuple(dict.fromkeys(uses)), source)


def _identity(word: str, identities: tuple[SeenIdentity, ...]) -> tuple[str, tuple[str, ...]] | None:
    """The identity that a word is, and how it was spelt."""
    for one in identities:
        if one.kind == SERIAL:
            if word == one.value or (len(word) >= 5 and word == one.value.lstrip("0")):
                return one.name, ("strip-zeros",) if word != one.value else ()
            continue
        plain = re.sub(r"[:.-]", "", word)
        if plain.casefold() == one.digits.casefold():
            spelt = ("no-separators",) if plain == word else ()
            letters = re.sub(r"[0-9]", "", plain)
            case = ("upper",) if letters and letters.isupper() else ("lower",) if letters else ()
            return one.name, (*spelt, *case)
    return None
