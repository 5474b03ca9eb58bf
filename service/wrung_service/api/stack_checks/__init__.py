"""Stacks built by hand: ``POST /v1/stack-checks``."""
