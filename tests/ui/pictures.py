"""Makes the README's pictures of the real window, offscreen, on the demo: python -m tests.ui.pictures [FOLDER [NAME…]]

The demo is made afresh in a folder that is named in the pictures, and taken away afterwards.
"""

import os
import sys

os.environ["QT_QPA_PLATFORM"] = "offscreen"

import shutil
import tempfile
import time
from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication

from catalogue.shapes.kit import Pin
from catalogue.tasks import demo
from catalogue.tasks.context import Context
from ui import look
from ui.session import Open, Session
from ui.window import Window

BENCH = Path(tempfile.gettempdir()) / "saltmarsh-bench"
SIZE = (1366, 800)
MOST_SECONDS = 30


class Camera:
    """A window on the demo's catalogue, and a picture of it."""

    def __init__(self, app: QApplication, context: Context, *, dark: bool) -> None:
        app.setPalette(look.palette(look.DARK if dark else look.LIGHT))
        self.app = app
        self.window = Window(Session(context, QSettings(str(BENCH / "window.ini"), QSettings.Format.IniFormat)))
        self.window.resize(*SIZE)
        self.window.show()
        self.window.start()
        self.wait()

    def wait(self, until=lambda: True) -> None:
        """Let the window work until it is quiet."""
        end = time.monotonic() + MOST_SECONDS
        quiet = 0
        while quiet < 20 and time.monotonic() < end:
            self.app.processEvents()
            lanes = self.window.session._lanes.values()
            busy = any(lane.busy for lane in lanes) or self.window.session.job is not None
            quiet = 0 if busy or not until() else quiet + 1
            time.sleep(0.01)
        assert quiet, "the window did not come to rest"

    def page(self, title):
        """A page by its title, opened."""
        at = self.window.page_called(title)
        self.window.open_page(at)
        self.wait()
        return self.window.page(at)

    def keep(self, where: Path) -> None:
        """Keep the picture and close the window."""
        self.wait()
        self.window.says.hide()
        self.app.processEvents()
        picture = self.window.grab()
        assert picture.save(str(where)), where
        self.window.close()
        print(where)


def shelf(camera):
    page = camera.page("Shelf")
    page.search.setText("option rom 2 images")
    camera.wait(lambda: page.table.rowCount() > 0 and page.table.row(0) is not None)
    page.list.selectRow(0)
    camera.wait(lambda: page.sheet.detail is not None)
    fields = [line for line in page.sheet.view.lines.lines if line.name == "device ID" and line.has_bytes]
    page.sheet.go_to(fields[0].offset)
    page.sheet.view.scrollTo(page.sheet.view.currentIndex(), page.sheet.view.ScrollHint.PositionAtCenter)


def kits_ready(camera):
    page = camera.page("Kits")
    page.open(Open("Kits", family="corvane-bittern", mode="raid"))
    camera.wait(lambda: page.kit is not None)


def kits_refused(camera):
    kits_ready(camera)
    page = camera.page("Kits")
    other = next(
        one
        for role in page.kit.roles
        if role.role == "legacy-boot-rom"
        for one in role.others
        if "other-mode" in one.why
    )
    page._pins[(page.family, page.route)] = {
        "legacy-boot-rom": Pin("legacy-boot-rom", other.piece, "it lay on top of the downloads")
    }
    page._judge()
    camera.wait(lambda: page.kit is not None and page.kit.verdict != "ready")


def media(camera):
    kits_ready(camera)
    kit = camera.page("Kits").kit
    page = camera.page("Media")
    page.open(Open("Media", kit=kit))
    page.use_folder(str(BENCH / "stick"))
    camera.wait(page.view.write.isEnabled)
    page.write_out()
    camera.wait(lambda: bool(page.view.outcome))


def welcome(camera):
    camera.wait()


PICTURES = (
    ("welcome-light", welcome, False),
    ("shelf-light", shelf, False),
    ("shelf-dark", shelf, True),
    ("kits-ready-light", kits_ready, False),
    ("kits-refused-light", kits_refused, False),
    ("kits-refused-dark", kits_refused, True),
    ("media-light", media, False),
    ("media-dark", media, True),
)


def main() -> int:
    folder = Path(
        sys.argv[1] if len(sys.argv) > 1 else Path(__file__).resolve().parents[2] / "resources" / "pictures"
    ).absolute()
    wanted = sys.argv[2:]
    folder.mkdir(parents=True, exist_ok=True)
    shutil.rmtree(BENCH, ignore_errors=True)
    BENCH.mkdir()
    try:
        os.environ["HOME"] = str(BENCH)
        full, empty = Context(str(BENCH / "catalogue.db")), Context(str(BENCH / "empty.db"))
        demo.run(full, BENCH)
        app = QApplication(["kitproof"])
        for name, act, dark in PICTURES:
            if wanted and name not in wanted:
                continue
            shutil.rmtree(BENCH / "stick", ignore_errors=True)
            (BENCH / "stick").mkdir()
            camera = Camera(app, empty if act is welcome else full, dark=dark)
            act(camera)
            camera.keep(folder / f"{name}.png")
    finally:
        shutil.rmtree(BENCH, ignore_errors=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
