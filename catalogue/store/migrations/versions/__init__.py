"""One file a revision; each holds its own picture of the tables and is never edited again."""
