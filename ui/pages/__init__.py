"""The window's pages, one row each; their order is the order of their plates."""

from __future__ import annotations

from ui.pages.kits import Kits
from ui.pages.media import Media
from ui.pages.page import Page
from ui.pages.shelf import Shelf

PAGES: tuple[Page, ...] = (Page("Shelf", Shelf), Page("Kits", Kits), Page("Media", Media))
