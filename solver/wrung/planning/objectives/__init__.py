"""Objectives: each settled in the contract's order, with what the other packages provide."""
