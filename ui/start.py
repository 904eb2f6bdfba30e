"""Opens the window: painted first, then the catalogue."""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QSettings, QStandardPaths
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QApplication

from catalogue.tasks.context import Context
from ui import text
from ui.look import follow_system
from ui.session import Session
from ui.window import Window, apply_text_step, text_step

if TYPE_CHECKING:
    from ui.entry import WindowCall

ICON = Path(__file__).resolve().parent.parent / "resources" / "kitproof.svg"


def run(call: WindowCall) -> int:
    """Open the window and stay until it is closed; the exit code."""
    app = QApplication.instance() or QApplication(["kitproof"])
    assert isinstance(app, QApplication)
    app.setApplicationName("kitproof")
    app.setApplicationDisplayName("Kitproof")
    app.setDesktopFileName("kitproof")
    follow_system(app)
    app.setWindowIcon(QIcon(str(ICON)))
    settings = QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "kitproof", "window")
    if settings.contains("text/step"):
        apply_text_step(text_step(settings))
    catalogue = call.catalogue
    if catalogue is not None and "://" not in catalogue:
        catalogue = str(Path(catalogue).absolute())
    made = _new_catalogue(catalogue)
    context = Context(catalogue, tuple(Path(one).absolute() for one in call.families))
    window = Window(Session(context, settings))
    window.painted.connect(window.start)
    window.painted.connect(lambda: keep_log(debug=call.debug))
    if catalogue is not None:
        window.setWindowTitle(f"Kitproof, catalogue {text.plain(catalogue, 200)}")
    if made:
        window.painted.connect(lambda: window.session.say("note", made))
    window.show()
    gc.freeze()
    gc.enable()
    return app.exec()


def _new_catalogue(catalogue: str | None) -> str:
    """What to say where a catalogue is named that is not there yet; "" where it is, or where none is named."""
    if catalogue is None or "://" in catalogue or Path(catalogue).exists():
        return ""
    return (
        f"There is no catalogue {text.plain(catalogue, 300)} yet: a new, empty one is begun there. "
        "If that is not what you meant, close the window and look at the path."
    )


def keep_log(*, debug: bool) -> None:
    """Write warnings and bugs to a file of bounded size in the user's data folder; with `debug` to stderr too."""
    import logging.handlers  # after the first paint: it is among the slower imports

    log = logging.getLogger("kitproof")
    log.setLevel(logging.DEBUG if debug else logging.WARNING)
    if debug:
        log.addHandler(logging.StreamHandler(sys.stderr))
    folder = Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        log.addHandler(
            logging.handlers.RotatingFileHandler(
                folder / "window.log", maxBytes=1 << 20, backupCount=1, encoding="utf-8", delay=True
            )
        )
    except OSError as problem:
        log.warning("no log file can be kept in %s: %s", folder, problem)
