"""Selection: which candidates stand side by side, no piece used twice."""
