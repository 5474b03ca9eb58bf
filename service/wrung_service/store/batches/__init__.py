"""Batches: requests answered in the background, and the engines that hand them to workers."""
