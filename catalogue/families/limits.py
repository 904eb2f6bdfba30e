"""Bounds on a family file. Each has a test that reaches it."""

MAX_FILE_BYTES = 1 << 20
MAX_ITEMS = 20_000
"""Keys and list entries of one file."""
MAX_DEPTH = 10
"""Tables and lists inside one another; parts of a dotted key count."""
MAX_SCALAR = 100
"""Characters of a number, date or truth value."""
MAX_TEXT = 1_000
"""Characters of one text."""
MAX_LIST = 1_000
"""Entries of one list, or tables of one kind."""
MAX_PROBLEMS = 500
"""Problems told of one file; the last one then says that there are more."""
MAX_FILES = 2_000
"""Family files of one folder."""
MAX_EXTENDS = 8
"""Families that a variant may stand on, one upon the other."""
MAX_VERSION = 128
"""Characters of what `{version}` takes; a longer run is no version."""
MAX_SLOT = 16
"""Characters of what `{slot}` takes (family-file.md)."""
MAX_VALUE = 256
"""Characters of what `{value}` takes; a longer line is none."""
MAX_SEPARATOR = 256
"""Characters that one `~` takes."""
MAX_TRIES = 100_000
"""Places of one piece at which one pattern is tried; a file that leads astray more often than that gets no answer."""
MAX_SHOWN_TEXT = 1 << 20
"""Characters of a pasted listing that are looked at."""
MAX_SHOWN_CARDS = 1_000
"""Cards read from one pasted listing."""
