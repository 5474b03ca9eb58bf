"""What the hands do: the order of wringing."""
