"""One stack by itself: whether some pieces can build a length, and which lengths they can build."""
