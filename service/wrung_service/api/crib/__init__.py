"""The crib on the wire: what a request names in place of blocks."""
