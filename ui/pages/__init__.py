"""The window's pages, one row each; their order is the order of their plates.

A page's file is imported when the page is first built, for the window is painted before any of them.
"""

from __future__ import annotations

from ui.pages.page import Page, PageWidget
from ui.session import Session


def _shelf(session: Session) -> PageWidget:
    from ui.pages.shelf import Shelf

    return Shelf(session)


def _kits(session: Session) -> PageWidget:
    from ui.pages.kits import Kits

    return Kits(session)


def _media(session: Session) -> PageWidget:
    from ui.pages.media import Media

    return Media(session)


PAGES: tuple[Page, ...] = (Page("Shelf", _shelf), Page("Kits", _kits), Page("Media", _media))
