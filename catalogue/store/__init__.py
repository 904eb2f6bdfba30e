"""The catalogue database and the contents kept beside it. The only room that speaks SQL."""

from sqlalchemy import Connection

from catalogue.store.store import Store

__all__ = ["Connection", "Store"]
