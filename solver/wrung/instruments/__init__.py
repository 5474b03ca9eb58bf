"""Instruments that are checked with gauge blocks: at which points, and what error is permitted."""
