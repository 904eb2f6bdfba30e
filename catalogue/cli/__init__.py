"""The command line: parses, calls a task, prints its result as text or JSON, decides exit codes."""
