"""What is quickly built, and what is quickly proven out of reach: simple ways, without a search."""
