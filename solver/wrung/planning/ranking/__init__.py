"""Ranking: the best stacks of a single demand in their order, each proven."""
