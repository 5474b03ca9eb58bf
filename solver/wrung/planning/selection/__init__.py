"""Selection: choosing candidates that share no piece (set packing)."""
