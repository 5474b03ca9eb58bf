"""What an operator sees: log lines and health."""
