"""Where a user's own things lie: the data folder, the settings, the family folders."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import platformdirs

from catalogue.errors import BadCall

NAME = "kitproof"
MOST_BYTES = 1 << 20
"""A settings file is at most this long."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What the settings file says; `families` are further folders of family files."""

    families: tuple[Path, ...] = ()


def settings_file() -> Path:
    """Where the settings are looked for; the file need not exist."""
    return platformdirs.user_config_path(NAME, appauthor=False) / "settings.toml"


def user_families() -> Path:
    """The folder of the user's own family files; it need not exist."""
    return platformdirs.user_data_path(NAME, appauthor=False) / "families"


def user_hosts() -> Path:
    """The folder of the user's own host files, a folder each; it need not exist."""
    return platformdirs.user_data_path(NAME, appauthor=False) / "hosts"


def shipped_families() -> Path:
    """The family files that come with the program: the demo's, all invented."""
    return Path(str(resources.files("resources"))) / "families"


def is_shipped(file: Path) -> bool:
    """Whether a family file came with the program."""
    return shipped_families().resolve() in file.resolve().parents


def read() -> Settings:
    """The settings; none where there is no file.

    Raises BadCall, naming the file, where it cannot be read, is not TOML, or says what we do not know.
    """
    file = settings_file()
    try:
        with file.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        return Settings()
    except OSError as error:
        raise BadCall(f"The settings file {file} cannot be read: {error.strerror}. Mend or remove it.") from None
    try:
        said = tomllib.loads(data.decode()) if len(data) <= MOST_BYTES else {"": ""}
    except ValueError as error:
        raise BadCall(f"The settings file {file} is not TOML: {error}. Mend or remove it.") from None
    folders: object = said.pop("families", [])
    if said or not isinstance(folders, list) or not all(isinstance(one, str) for one in folders):
        raise BadCall(f'The settings file {file} may hold only: families = ["folder", …]. Mend or remove it.')
    return Settings(tuple(Path(one).expanduser() for one in folders))
