"""Estimates beside a measurement, and of what blocks do between calibrations."""
