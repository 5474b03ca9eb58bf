"""Cards for the bench: a stack on paper, with all that is needed to build and use it."""
