"""Draft a family file from a known-good folder (family-file contract, "Drafting"): values in, text and evidence out."""

from catalogue.families.drafting.compose import draft
from catalogue.families.drafting.given import Given, Piece, RomImage, Text

__all__ = ["Given", "Piece", "RomImage", "Text", "draft"]
