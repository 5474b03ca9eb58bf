"""Batches: posted, run by workers, cancelled, and ended when their time is over."""
