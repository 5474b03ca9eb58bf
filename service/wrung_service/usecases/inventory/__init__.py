"""Whole shelves in and out, with a look at what would change first."""
