"""Estimates beside a measurement: ``POST /v1/soaking-times``, ``POST /v1/contact-compressions``."""
