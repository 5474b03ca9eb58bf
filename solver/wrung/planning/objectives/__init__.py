"""Objectives: each settled in the contract's order, from what the other rooms do."""
