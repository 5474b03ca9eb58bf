"""Whole shelves as JSON or CSV, certificates for the crib, and what is due for calibration."""
