"""Candidates in, one choice a role and findings out. Pure."""
