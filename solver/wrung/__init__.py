"""Gauge block stacks that can really be built, proven best, with their worst-case error."""
