"""Blocks go out, and come back."""
