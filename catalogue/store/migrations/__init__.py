"""Alembic's migrations: from each form of the tables to the next."""
