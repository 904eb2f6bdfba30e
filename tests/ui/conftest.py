"""The window's tests run without a screen, in settings of their own, and fail on any Qt warning."""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest

try:
    import PySide6.QtWidgets  # noqa: F401
except ImportError:  # the system's graphics libraries are missing; tests/run names them
    collect_ignore_glob = ["test_[!e]*.py"]


def pytest_collection_modifyitems(config, items):
    if not config.pluginmanager.has_plugin("pytest-qt"):
        return
    for item in items:
        if "tests/ui/" in item.nodeid:
            item.add_marker(pytest.mark.qt_log_level_fail("WARNING"))
            item.add_marker(pytest.mark.qt_log_ignore("propagateSizeHints"))


@pytest.fixture
def world(tmp_path, monkeypatch, qapp):
    """A window over made-up answers; everything is closed afterwards."""
    from tests.ui.world import make_world

    made = make_world(tmp_path, monkeypatch, qapp)
    yield made
    made.close()
