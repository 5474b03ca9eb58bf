"""Alembic's revisions, one file each, in the order of their numbers."""
