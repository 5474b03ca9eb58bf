"""Limits of size: from a nominal size and a tolerance class to two limits, by the standards."""
