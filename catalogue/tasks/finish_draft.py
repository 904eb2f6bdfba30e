"""Answer a draft's open questions, check it, and keep it among the user's own families once it shows itself right."""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.families.drafting import answers, questions
from catalogue.families.drafting.given_answer import Answer
from catalogue.families.limits import MAX_FILE_BYTES
from catalogue.shapes.draft import Question
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import Accepted
from catalogue.store import Store
from catalogue.tasks import accept_family, known, settings
from catalogue.tasks.context import Context

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,58}")


def asked(text: str) -> tuple[Question, ...]:
    """The open questions. Raises BadCall for a text that is no TOML, or too long."""
    return questions.asked(text)


def answer(text: str, key: str, value: Answer) -> str:
    """The text with one question answered. Raises BadCall for what is no answer."""
    return answers.answer(text, key, value)


def check(context: Context, text: str, progress: Progress) -> Accepted:
    """All that accepting would prove; nothing is recorded or kept. Raises Stopped."""
    with tempfile.TemporaryDirectory(prefix="kitproof-draft-") as scratch:
        file = Path(scratch) / "draft.toml"
        _write(file, text)
        return accept_family.run(context, file, progress, only_look=True)


def keep(context: Context, text: str, name: str, progress: Progress) -> tuple[Accepted, Path]:
    """Accept a draft and keep it as NAME.toml among the user's families; what does not settle is not kept.

    Raises BadCall for a name that is none or is taken, also where a family of the same id is known; NotWorkable.
    """
    if not NAME.fullmatch(name):
        raise BadCall("A file name is 1 to 59 letters, digits, dots, - and _, the first a letter or digit.")
    folder = settings.user_families()
    file = folder / f"{name}.toml"
    if os.path.lexists(file):
        raise BadCall(f"{file} is there already, and a draft never takes a file's place. Give it another name.")
    done = check(context, text, progress)
    if done.problems:
        return done, file
    with Store.open(context.catalogue) as store:
        there = known.families(context, store).families.get(done.id)
    if there is not None:
        raise BadCall(f"A family {done.id} is known already, from {there.file}. Give this one another id.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise NotWorkable(f"The folder {folder} cannot be made: {error.strerror or error}.") from error
    _write(file, text)
    try:
        done = accept_family.run(context, file, progress)
    except BaseException:
        file.unlink(missing_ok=True)
        raise
    if not done.settled:
        file.unlink(missing_ok=True)
    return done, file


def _write(file: Path, text: str) -> None:
    data = text.encode("utf-8", "surrogatepass")
    if len(data) > MAX_FILE_BYTES:
        raise BadCall(f"A family file is at most {MAX_FILE_BYTES >> 10} KiB; this draft is longer.")
    try:
        with file.open("xb") as stream:
            stream.write(data)
    except FileExistsError as error:
        raise BadCall(f"{file} is there already, and a draft never takes a file's place.") from error
    except OSError as error:
        raise NotWorkable(f"The draft could not be written to {file}: {error.strerror or error}.") from error
