"""The command line: parses, calls a task, prints its result as text or JSON, decides exit codes."""

from catalogue.cli.main import main

__all__ = ["main"]
