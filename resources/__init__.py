"""Data the program ships: family files, run-sheet text, style."""
