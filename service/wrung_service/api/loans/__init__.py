"""Blocks go out and come back: issues, returns, loans, conditions, plans at risk."""
