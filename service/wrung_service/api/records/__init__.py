"""Records of what was planned: shape.py says what is in them, normal.py what their hash covers.

writing.py makes one, table.py turns it into CSV, and checking.py makes it again from what it holds.
"""
