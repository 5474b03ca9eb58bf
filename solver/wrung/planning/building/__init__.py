"""Stacks one after another from what is free on one shelf, each quickly and with few blocks."""
