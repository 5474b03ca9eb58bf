"""Batches on the wire: posted, watched, read and cancelled; and what workers answer."""
