"""What a crib has: sites, sets and blocks, each change with its entry in history."""
