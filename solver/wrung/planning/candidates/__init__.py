"""Candidates: whole stacks that could be part of a best plan, from tables of remaining lengths."""
