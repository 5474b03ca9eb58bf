"""Kinds of target on the wire, derived from the library's own: a new kind needs no line here.

shapes.py says how each measure looks, wanted.py makes the Struct of a request's target and reads
it, found.py makes the Struct of a result and writes it.
"""
