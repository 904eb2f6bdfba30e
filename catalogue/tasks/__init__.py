"""One file a verb: composes the rooms. Command line and window act only through these."""
