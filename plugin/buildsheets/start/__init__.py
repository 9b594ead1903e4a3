"""Beginnings: a new record, and a new club's library."""
