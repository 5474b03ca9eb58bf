"""Angle gauge blocks, which add or subtract: sets, and the fewest blocks for an angle."""
