"""The catalogue database: the only room that speaks SQL."""
