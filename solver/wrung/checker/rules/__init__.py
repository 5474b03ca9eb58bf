"""The rules of stacks, by subject: each a function that reads the case and yields breaches."""
