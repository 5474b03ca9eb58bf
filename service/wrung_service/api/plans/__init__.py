"""Blocks promised to jobs for a time: ``/v1/plans``."""
