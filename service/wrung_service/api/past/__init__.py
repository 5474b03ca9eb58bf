"""What was: the history of a site, a job as it was, and the uses of a block."""
