"""How sure an answer is: what the resources share of calibrations, conditions and budgets."""
