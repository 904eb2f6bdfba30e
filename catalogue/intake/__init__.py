"""Folders in, pieces out: walk, open archives, fingerprint, read, hand on."""
