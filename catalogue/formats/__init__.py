"""Bytes in, a Reading out: one file a published format. No paths, names, database or clock."""
