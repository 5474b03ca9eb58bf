"""Certificates of calibration: ``POST /v1/certificate-imports``."""
